//! The reference sheet: nothing runs off the page or into anything else, whatever it is given, and
//! what is written is a whole PNG or nothing.

use foreglass::handover::{
    Area, Item, LookSheet, MODELLED, Page, Picture8, Sheet, SheetError, StackRow, StopKind,
    lay_out, paint, write_sheet,
};
use foreglass::rig::advisory::{Advisory, Level};
use foreglass::watch::Watch;
use proptest::prelude::*;

fn flat(width: usize, height: usize, code: u8) -> Picture8 {
    Picture8::new(width, height, vec![code; width * height * 3]).expect("a picture")
}

/// `length` characters of plain words.
fn words(length: usize) -> String {
    "the quay lamps keep their points while the wheelhouse goes warm and soft "
        .chars()
        .cycle()
        .take(length)
        .collect()
}

fn look(picture: (usize, usize), glass: usize, advisories: usize, text: usize) -> LookSheet {
    LookSheet {
        name: words(text),
        bare: flat(picture.0, picture.1, 60),
        glass: flat(picture.0, picture.1, 70),
        stack: (0..glass)
            .map(|i| StackRow {
                place: format!("Stage {}", i + 1),
                glass: words(text),
                loss_stops: 0.12,
                detail: words(text),
            })
            .collect(),
        light_loss_stops: 1.29,
        loss_nominal_stops: Some(4.0 / 3.0),
        stop_kind: StopKind::F,
        bare_stop: 4.0,
        stop_to_set: 2.56,
        diffusion: words(2 * text),
        camera_lines: vec![words(text), words(text)],
        advisories: (0..advisories)
            .map(|i| {
                Advisory::new(
                    "test",
                    [Level::Note, Level::Caution, Level::Stop][i % 3],
                    words(text + 40),
                )
            })
            .collect(),
        note: words(3 * text),
    }
}

fn sheet(looks: Vec<LookSheet>) -> Sheet {
    Sheet {
        title: looks[0].name.clone(),
        frame_name: "wheelhouse_scout_0412.tif".to_owned(),
        looks,
        cautions: vec!["Never point the camera at the sun to judge a grad.".to_owned()],
        date: "25 November 2026".to_owned(),
    }
}

/// What stands wrong on a page: off it, or over something else.
fn faults(page: &Page) -> Vec<String> {
    // No printer reaches the last millimetres of a sheet.
    let printable = Area {
        x: 8.0,
        y: 8.0,
        width: page.width_mm - 16.0,
        height: page.height_mm - 16.0,
    };
    let mut blocks: Vec<(String, Area)> = page
        .texts()
        .map(|t| (t.lines.join(" / "), t.area()))
        .collect();
    blocks.extend(page.pictures().map(|p| ("a picture".to_owned(), *p)));
    let mut wrong = Vec::new();
    for (i, (name, area)) in blocks.iter().enumerate() {
        if !area.lies_in(&printable) {
            wrong.push(format!("{name:?} runs off the page: {area:?}"));
        }
        for (other, place) in &blocks[i + 1..] {
            if area.overlaps(place) {
                wrong.push(format!("{name:?} lies over {other:?}: {area:?}, {place:?}"));
            }
        }
    }
    for item in &page.items {
        let corners = match item {
            Item::Rect(a, _) => vec![[a.x, a.y], [a.x + a.width, a.y + a.height]],
            Item::Polygon(corners, _) => corners.clone(),
            _ => continue,
        };
        let whole = page.area();
        if !corners.iter().all(|c| {
            Area {
                x: c[0],
                y: c[1],
                width: 0.0,
                height: 0.0,
            }
            .lies_in(&whole)
        }) {
            wrong.push(format!("a shape runs off the page: {corners:?}"));
        }
    }
    wrong
}

fn said(page: &Page) -> String {
    page.texts()
        .flat_map(|t| t.lines.clone())
        .collect::<Vec<_>>()
        .join(" ")
        .replace('\u{a0}', " ")
}

const FORMATS: [(usize, usize); 6] = [
    (1600, 900),
    (2390, 1000),
    (900, 1600),
    (1000, 1000),
    (4000, 300),
    (300, 4000),
];

#[test]
fn extreme_sheets_hold_together() {
    for format in FORMATS {
        for (glass, advisories, text) in [
            (0, 0, 0),
            (1, 1, 8),
            (3, 2, 24),
            (5, 6, 65),
            (5, 6, 100),
            (5, 6, 400),
            (12, 20, 80),
        ] {
            let one = look(format, glass, advisories, text);
            for looks in 1..=4 {
                let page = lay_out(&sheet(vec![one.clone(); looks])).unwrap();
                let wrong = faults(&page);
                assert!(
                    wrong.is_empty(),
                    "{format:?} {glass} {advisories} {text} × {looks}: {wrong:#?}"
                );
            }
        }
    }
}

#[test]
fn long_words_at_the_edges_hold_together() {
    for looks in 1..=4 {
        for note in [600, 2000, 6000] {
            let mut one = look((1600, 900), 5, 6, 90);
            one.note = words(note);
            one.camera_lines = vec![words(90); 9];
            let mut sheet = sheet(vec![one; looks]);
            sheet.frame_name = "quay_".repeat(60);
            sheet.date = words(90);
            sheet.cautions = vec![words(260); 3];
            let wrong = faults(&lay_out(&sheet).unwrap());
            assert!(
                wrong.is_empty(),
                "{looks} looks, a note of {note}: {wrong:#?}"
            );
        }
    }
}

#[test]
fn the_check_sees_what_it_is_for() {
    let page = lay_out(&sheet(vec![look((1600, 900), 3, 2, 24)])).unwrap();
    let mut over = page.clone();
    let first = page.texts().next().unwrap().clone();
    over.items.push(Item::Text(first.clone()));
    assert!(!faults(&over).is_empty(), "a text set twice is seen");
    let mut off = page;
    off.items.push(Item::Text(foreglass::handover::Text {
        x_mm: 280.0,
        ..first
    }));
    assert!(!faults(&off).is_empty(), "a text off the page is seen");
}

#[test]
fn a_full_sheet_of_one_look_says_everything() {
    // Five pieces of glass, six advisories, a name of 65 letters, a note of 300.
    for format in [(1600, 900), (2390, 1000), (900, 1600)] {
        let mut full = look(format, 5, 6, 65);
        full.note = words(299) + "!";
        let page = lay_out(&sheet(vec![full.clone()])).unwrap();
        let said = said(&page);
        assert!(!said.contains('…'), "{format:?}: something is cut: {said}");
        assert!(
            said.contains(MODELLED),
            "{format:?}: the caution stands at the foot"
        );
        assert!(
            said.contains("Never point the camera at the sun"),
            "the given caution too"
        );
        for row in full.advisories {
            assert!(
                said.contains(row.text.trim()),
                "{format:?}: {} is missing",
                row.text
            );
        }
        assert!(
            said.contains(full.note.trim()),
            "{format:?}: the note is whole"
        );
        assert!(
            said.contains("f/2.5") && said.contains("2.56 unrounded"),
            "{format:?}: {said}"
        );
        let smallest = page
            .texts()
            .map(|t| t.style.size_pt)
            .fold(f64::INFINITY, f64::min);
        assert!(
            smallest >= 6.5,
            "{format:?}: type of {smallest} points is too small"
        );
    }
}

#[test]
fn pictures_keep_their_shape() {
    for format in FORMATS {
        let page = lay_out(&sheet(vec![look(format, 2, 1, 30)])).unwrap();
        for place in page.pictures() {
            #[expect(clippy::cast_precision_loss, reason = "small")]
            let wanted = format.0 as f64 / format.1 as f64;
            let got = place.width / place.height;
            assert!((got / wanted - 1.0).abs() < 1e-9, "{format:?}: {got}");
        }
    }
}

#[test]
fn levels_are_told_by_word() {
    let page = lay_out(&sheet(vec![look((1600, 900), 1, 3, 10)])).unwrap();
    let words: Vec<_> = page
        .texts()
        .map(|t| t.lines.join(" ").replace('\u{a0}', " "))
        .collect();
    let at = |w: &str| {
        words
            .iter()
            .position(|t| t == w)
            .unwrap_or_else(|| panic!("{w}: {words:?}"))
    };
    assert!(
        at("Must fix") < at("Caution") && at("Caution") < at("Note"),
        "the gravest first"
    );
}

#[test]
fn one_to_four_looks() {
    let one = look((1600, 900), 1, 0, 10);
    let mut none = sheet(vec![one.clone()]);
    none.looks.clear();
    assert!(
        matches!(lay_out(&none), Err(SheetError::Looks { count: 0 })),
        "none"
    );
    let five = sheet(vec![one; 5]);
    assert!(
        matches!(lay_out(&five), Err(SheetError::Looks { count: 5 })),
        "five"
    );
}

#[test]
fn a_flat_picture_is_painted_in_its_own_code() {
    let page = lay_out(&sheet(vec![look((1600, 900), 1, 0, 10)])).unwrap();
    let painted = paint(&page, 100.0, &Watch::default()).unwrap();
    // A4 at 100 dots an inch: 297 / 25.4 × 100.
    assert_eq!((painted.width, painted.height), (1169, 827), "size");
    let place = *page.pictures().next().unwrap();
    let pixel = |x_mm: f64, y_mm: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "on the page"
        )]
        let at = |mm: f64| (mm * 100.0 / 25.4) as usize;
        let i = 4 * (at(y_mm) * 1169 + at(x_mm));
        painted.rgba[i..i + 4].to_vec()
    };
    let middle = pixel(place.x + place.width / 2.0, place.y + place.height / 2.0);
    assert_eq!(
        middle,
        [60, 60, 60, 255],
        "the picture's code comes through"
    );
    assert_eq!(pixel(2.0, 2.0), [255, 255, 255, 255], "paper is white");
}

#[test]
fn a_checkerboard_shrinks_to_the_light_it_holds() {
    // Half the light of white is sRGB 188 (IEC 61966-2-1: 0.5 encodes to 0.7354).
    let rgb = (0..800 * 450).flat_map(|i| [if (i % 800 + i / 800) % 2 == 0 { 255 } else { 0 }; 3]);
    let mut one = look((800, 450), 0, 0, 10);
    one.bare = Picture8::new(800, 450, rgb.collect()).unwrap();
    let page = lay_out(&sheet(vec![one])).unwrap();
    let painted = paint(&page, 20.0, &Watch::default()).unwrap();
    let place = page.pictures().next().unwrap();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "on the page"
    )]
    let at = |mm: f64| (mm * 20.0 / 25.4) as usize;
    let row = at(place.y + place.height / 2.0) * painted.width as usize;
    let code = painted.rgba[4 * (row + at(place.x + place.width / 2.0))];
    assert!(code.abs_diff(188) <= 2, "{code}");
}

#[test]
fn what_is_written_is_a_png_of_its_size_or_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = sheet(vec![look((160, 90), 3, 2, 30)]);
    let path = folder.path().join("sheet.png");
    write_sheet(&path, &sheet, 60.0, &Watch::default()).unwrap();
    let decoder = png::Decoder::new(std::io::BufReader::new(std::fs::File::open(&path).unwrap()));
    let reader = decoder.read_info().unwrap();
    let info = reader.info();
    assert_eq!(
        (info.width, info.height),
        (702, 496),
        "297 × 210 mm at 60 dots an inch"
    );
    let dims = info.pixel_dims.expect("its size on paper is in the file");
    assert!(
        dims.xppu.abs_diff(2362) <= 2,
        "60 dots an inch is 2362 a metre: {}",
        dims.xppu
    );

    let pdf = write_sheet(
        &folder.path().join("sheet.pdf"),
        &sheet,
        60.0,
        &Watch::default(),
    )
    .unwrap_err();
    assert!(
        matches!(pdf, SheetError::NoPdf { .. }) && pdf.to_string().contains("PDF"),
        "{pdf}"
    );
    let gif = write_sheet(
        &folder.path().join("sheet.gif"),
        &sheet,
        60.0,
        &Watch::default(),
    )
    .unwrap_err();
    assert!(matches!(gif, SheetError::Extension { .. }), "{gif}");
    let nowhere = write_sheet(
        &folder.path().join("none/sheet.png"),
        &sheet,
        60.0,
        &Watch::default(),
    )
    .unwrap_err();
    assert!(matches!(nowhere, SheetError::Save { .. }), "{nowhere}");
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert_eq!(left.len(), 1, "nothing else is left behind: {left:?}");
}

/// Its own promise: it moves while it works, ends at 1, and at whatever moment it is stopped there is no file, or all
/// of it.
#[test]
fn a_sheet_tells_how_far_it_is_and_can_be_stopped() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = sheet(vec![look((1600, 900), 3, 2, 30)]);
    let path = folder.path().join("sheet.png");
    let watch = Watch::default();
    let seen = std::thread::scope(|scope| {
        let work = scope.spawn(|| write_sheet(&path, &sheet, 100.0, &watch));
        let mut seen = vec![watch.progress()];
        while !work.is_finished() {
            let now = watch.progress();
            if seen.last() != Some(&now) {
                seen.push(now);
            }
            std::thread::yield_now();
        }
        work.join().unwrap().unwrap();
        seen
    });
    assert!(seen.len() > 5, "it moves while it works: {seen:?}");
    assert_eq!(watch.progress(), 1.0, "and ends at its end");
    std::fs::remove_file(&path).unwrap();

    for from in [0.0, 0.1, 0.65] {
        let watch = Watch::default();
        let result = std::thread::scope(|scope| {
            scope.spawn(|| {
                while watch.progress() < from {
                    std::thread::yield_now();
                }
                watch.cancel();
            });
            write_sheet(&path, &sheet, 200.0, &watch)
        });
        assert!(
            matches!(result, Err(SheetError::Cancelled(_))),
            "from {from}: {result:?}"
        );
        let left = std::fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(left, 0, "from {from}: nothing is left behind");
    }
}

#[test]
fn a_picture_is_its_bytes() {
    assert!(Picture8::new(2, 2, vec![0; 11]).is_none(), "a byte short");
    assert!(Picture8::new(0, 2, vec![]).is_none(), "no pixels");
    assert!(
        Picture8::new(usize::MAX, 2, vec![0; 12]).is_none(),
        "more than memory"
    );
}

fn any_text(most: usize) -> impl Strategy<Value = String> {
    prop_oneof![
        prop::collection::vec("[a-zA-Z0-9/.,’→−⅓ ]{0,14}", 0..most / 8).prop_map(|w| w.join(" ")),
        "\\PC{0,60}",
        "[A-Z]{60,90}",
    ]
}

prop_compose! {
    fn any_look()(
        names in prop::collection::vec(any_text(140), 12),
        glass in 0_usize..6,
        advisories in 0_usize..7,
        camera in 0_usize..5,
        note in any_text(400),
        (width, height) in (30_usize..300, 30_usize..300),
        loss in prop_oneof![0.0..12.0, Just(f64::NAN), Just(0.0)],
    ) -> LookSheet {
        let mut look = look((width, height), glass, advisories, 0);
        let mut next = names.into_iter().cycle();
        let mut text = || next.next().unwrap_or_default();
        look.name = text();
        for row in &mut look.stack {
            (row.place, row.glass, row.detail) = (text(), text(), text());
        }
        look.camera_lines = (0..camera).map(|_| text()).collect();
        for row in &mut look.advisories {
            row.text = text();
        }
        look.diffusion = text();
        look.light_loss_stops = loss;
        look.stop_to_set = 4.0 * (-loss / 2.0).exp2();
        look.note = note;
        look
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_sheet_holds_together(looks in prop::collection::vec(any_look(), 1..5)) {
        let page = lay_out(&sheet(looks)).unwrap();
        let wrong = faults(&page);
        prop_assert!(wrong.is_empty(), "{:#?}", wrong);
    }
}
