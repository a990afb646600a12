//! The command line, on a picture with EXIF.

use super::{fixture, near};
use crate::cli::{Folder, data, foreglass, refusal};
use crate::recipe::with;
use foreglass::frame::{Encoding, read_bytes};
use serde_json::json;

/// The command line, on a picture with EXIF: 67.3° across; 50 mm on 24.89 × 14 mm takes 44 × 26 pixels of
/// 120 × 90 (0.4978 and 0.28 of a tangent at 90.15 pixels each, to an even number).
#[test]
fn commands_take_the_planned_part() {
    let folder = Folder::new();
    let path = folder.write("r.json", with(&[]));
    let (phone, out) = (fixture("phone.jpg"), folder.path("out.png"));
    let done = foreglass(&["render", &phone, "--recipe", &path, "--out", &out]);
    let line = String::from_utf8(done.stdout).unwrap();
    let words = "the frame spans 67.3° across (EXIF: 26 mm in 36 × 24 terms); the plan takes the middle 37 % of \
                 its width\n";
    assert_eq!(line, words, "{}", String::from_utf8_lossy(&done.stderr));
    let bytes = std::fs::read(&out).unwrap();
    let made = read_bytes("out.png", &bytes, Encoding::Auto).unwrap().frame;
    assert_eq!([made.width(), made.height()], [44, 26], "the planned part");

    let text = foreglass(&["rig", "--recipe", &path, "--frame", &phone]).stdout;
    let text = String::from_utf8(text).unwrap();
    assert!(text.contains(words), "{text}");
    assert!(
        text.contains("(Super 35, three perforations): 27.4° × 16.4°"),
        "{text}"
    );
    assert!(
        text.contains("focal length 5.1 mm (from the file's EXIF)"),
        "{text}"
    );
    let rig = data(&["rig", "--recipe", &path, "--frame", &phone, "--json"]);
    near(
        rig["framing"]["part"][0].as_f64().unwrap(),
        38.0 / 120.0,
        1e-12,
    );
    near(
        rig["framing"]["part"][3].as_f64().unwrap(),
        58.0 / 90.0,
        1e-12,
    );

    // A spot is told in the frame, and reads there what it read before; its disc is as large.
    let at = "0.5125,0.4722,0.06";
    let bare = data(&["meter", &phone, "--spot", at, "--json"]);
    let cut = data(&["meter", &phone, "--recipe", &path, "--spot", at, "--json"]);
    near(
        bare["spots"][0]["bare_stops"].as_f64().unwrap(),
        cut["spots"][0]["bare_stops"].as_f64().unwrap(),
        1e-12,
    );
    assert_eq!(cut["spots"][0]["x"], json!(0.5125), "as it was told");
    let other = data(&["meter", &phone, "--spot", "0.65,0.4722,0.06", "--json"]);
    assert_ne!(
        bare["spots"][0]["bare_stops"], other["spots"][0]["bare_stops"],
        "a ramp"
    );
    let outside = ["meter", &phone, "--recipe", &path, "--spot", "0.1,0.5"];
    let (code, said) = refusal(&outside);
    assert!(
        code == 2 && said.contains("--spot 0.1,0.5: lies outside the planned picture"),
        "{said}"
    );
    assert!(said.contains("from 0.317 to 0.683 across"), "{said}");
    let outside = [
        "meter",
        &phone,
        "--recipe",
        &path,
        "--region",
        "0.1,0.4,0.6,0.6",
    ];
    let (code, said) = refusal(&outside);
    assert!(
        code == 2 && said.contains("--region 0.1,0.4,0.6,0.6: lies outside"),
        "{said}"
    );

    let wide = folder.write("wide.json", with(&[("/camera/focal_mm", json!(12))]));
    for args in [
        vec!["render", &phone, "--recipe", &wide, "--out", &out],
        vec!["rig", "--recipe", &wide, "--frame", &phone],
        vec!["meter", &phone, "--recipe", &wide],
        vec!["sheet", &phone, "--recipe", &wide, "--out", &out],
    ] {
        let (code, said) = refusal(&args);
        assert_eq!(code, 3, "{said}");
        assert!(
            said.starts_with("foreglass: phone.jpg: the frame spans 67.3°"),
            "{said}"
        );
        assert!(
            said.contains("light.outside") && said.contains("frame.take"),
            "what to write in the recipe: {said}"
        );
        assert_eq!(said.lines().count(), 1, "{said}");
    }
}
