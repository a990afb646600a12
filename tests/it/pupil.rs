//! Light through the pupil: placed glass and openings against closed forms and a slow count of rays.

use crate::checks::Table;
use foreglass::optics::field::{Field, View};
use foreglass::optics::pupil::{Aperture, Outline, Plane, Pupil, Ramp};
use proptest::prelude::*;

const FAR: f64 = f64::INFINITY;

fn plane(ramp: Ramp, turn_deg: f64, slide_mm: f64, depth_mm: f64) -> Plane {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    Plane {
        ramp,
        dye: None,
        toward_dense: [-sin, cos],
        slide_mm,
        depth_mm,
    }
}

/// F(u) = (acos u − u√(1−u²))/π of the light passes on the clear side of a hard edge: the disc-integral
/// table of the reference values (derived; checked there by quadrature).
#[test]
fn a_hard_edge_is_the_disc_integral() {
    let table = [
        (-0.75, 0.927_853),
        (-0.5, 0.804_499),
        (-0.25, 0.657_481),
        (0.0, 0.5),
        (0.25, 0.342_519),
        (0.5, 0.195_501),
        (0.75, 0.072_147),
    ];
    let (diameter, depth) = (17.857, 100.0);
    let pupil = Pupil {
        diameter_mm: diameter,
        subject_mm: FAR,
    };
    // Opaque above the edge: density 20 passes nothing.
    let edge = plane(Ramp::linear(20.0, 0.0), 0.0, 0.0, depth);
    for (u, above) in table {
        // The chief ray passes u half-diameters below the edge.
        let tangent = -u * diameter / 2.0 / depth;
        let seen = pupil.seen(&[&edge], &[], [0.0, tangent]);
        assert!((1.0 - seen - above).abs() < 2e-6, "u = {u}: {}", 1.0 - seen);
    }
}

/// A long ramp of slope k gains 2 I₁(kR)/(kR) over its transmittance on the chief ray: the reference
/// values 1.049098 at kR = 0.6217 and 1.502617 at 1.8651 (derived; Monte Carlo agrees to 1e-4).
#[test]
fn a_ramp_gains_the_bessel_factor() {
    let pupil = Pupil {
        diameter_mm: 20.0,
        subject_mm: FAR,
    };
    for (kr, gain) in [(0.6217, 1.049_098), (1.8651, 1.502_617)] {
        let slope = kr / 10.0 / std::f64::consts::LN_10; // density per mm
        let ramp = plane(Ramp::linear(slope * 400.0, 400.0), 0.0, 0.0, 80.0);
        let seen = pupil.seen(&[&ramp], &[], [0.0, 0.0]);
        let chief = libm::exp10(-slope * 200.0);
        assert!(
            (seen / chief - gain).abs() < 2e-5,
            "kR = {kr}: {}",
            seen / chief
        );
    }
}

/// `vignette.csv`: the overlap of two circles (derived there).
#[test]
fn a_ring_clips_the_overlap_of_two_circles() {
    for row in Table::read("vignette.csv").rows() {
        let pupil = Pupil {
            diameter_mm: 2.0 * row.number("pupil_r_mm"),
            subject_mm: FAR,
        };
        let ring = Aperture {
            outline: Outline::Circle {
                radius_mm: row.number("ring_R_mm"),
            },
            centre_mm: [0.0; 2],
            depth_mm: row.number("z_mm"),
        };
        let wanted = row.number("visible_pupil_fraction");
        for azimuth in [0.0, 0.7, 2.1_f64] {
            let r = row.number("theta_deg").to_radians().tan();
            let seen = pupil.seen(&[], &[ring], [r * azimuth.cos(), r * azimuth.sin()]);
            assert!(
                (seen - wanted).abs() < 2e-4,
                "{} at {azimuth}: {seen}",
                row.text("theta_deg")
            );
        }
    }
}

/// `grad_geometry.csv`: footprint, and width of a hard edge in the picture, f·D′/z (derived there).
#[test]
fn a_hard_edge_is_as_wide_as_its_footprint_makes_it() {
    for row in Table::read("grad_geometry.csv").rows() {
        let (f, z) = (row.number("f_mm"), row.number("z_mm"));
        let subject_mm = row.text("subject_mm").parse().unwrap_or(FAR);
        let pupil = Pupil {
            diameter_mm: f / row.number("N"),
            subject_mm,
        };
        let footprint = 2.0 * pupil.footprint_radius(z);
        assert!(
            (footprint - row.number("footprint_mm")).abs() < 1e-9,
            "{footprint}"
        );
        let edge = plane(Ramp::linear(0.6, 0.0), 0.0, 0.0, z);
        let half = row.number("image_transition_full_mm") / 2.0;
        let at = |mm: f64| pupil.seen(&[&edge], &[], [0.0, mm / f]);
        let dense = libm::exp10(-0.6);
        assert!(
            (at(-half * 1.0001) - 1.0).abs() < 1e-7,
            "clear just outside its lower end"
        );
        assert!(
            (at(half * 1.0001) - dense).abs() < 1e-7,
            "dense just outside its upper end"
        );
        assert!(
            at(-half * 0.98) < 1.0 - 1e-4 && at(half * 0.98) > dense + 1e-4,
            "changing inside"
        );
        assert!(
            (at(0.0) - f64::midpoint(1.0, dense)).abs() < 1e-9,
            "half way in its middle"
        );
    }
}

/// Two hard 0.6 grads with their edges aligned: the mean of the product over the pupil, not the product
/// of the means, which is 0.44 stop darker at mid-edge (worked in closed form).
#[test]
fn aligned_grads_are_averaged_together() {
    let pupil = Pupil {
        diameter_mm: 12.5,
        subject_mm: FAR,
    };
    let grads = [
        plane(Ramp::linear(0.6, 0.0), 0.0, 0.0, 80.0),
        plane(Ramp::linear(0.6, 0.0), 0.0, 0.0, 88.0),
    ];
    let together = pupil.seen(&[&grads[0], &grads[1]], &[], [0.0, 0.0]);
    let (t, tt) = (libm::exp10(-0.6), libm::exp10(-1.2));
    assert!(
        (together - f64::midpoint(1.0, tt)).abs() < 1e-9,
        "{together}"
    );
    let apart = f64::midpoint(1.0, t).powi(2);
    assert!(
        ((together / apart).log2() - 0.44).abs() < 0.005,
        "{}",
        (together / apart).log2()
    );
    // Two 2-stop grads take four stops where both are dense and none where both are clear (common
    // practice, no source).
    let covered = pupil.seen(&[&grads[0], &grads[1]], &[], [0.0, 0.2]);
    assert!((-covered.log2() - 4.0).abs() < 0.02, "{covered}");
    let clear = pupil.seen(&[&grads[0], &grads[1]], &[], [0.0, -0.2]);
    assert!((clear - 1.0).abs() < 1e-12, "{clear}");
}

/// Slow oracle: rays on an even spiral over the pupil.
fn by_rays(pupil: Pupil, planes: &[Plane], apertures: &[Aperture], direction: [f64; 2]) -> f64 {
    const RAYS: usize = 60_000;
    let radius = pupil.diameter_mm / 2.0;
    let sum: f64 = (0..RAYS)
        .map(|i| {
            let r = radius * ((i as f64 + 0.5) / RAYS as f64).sqrt();
            let (sin, cos) = (i as f64 * 2.399_963_229_728_653).sin_cos();
            let at = |z: f64| {
                let k = 1.0 - z / pupil.subject_mm;
                [
                    k * r * cos + z * direction[0],
                    k * r * sin + z * direction[1],
                ]
            };
            let open = apertures.iter().all(|a| {
                let p = at(a.depth_mm);
                let p = [p[0] - a.centre_mm[0], p[1] - a.centre_mm[1]];
                match a.outline {
                    Outline::Circle { radius_mm } => p[0].hypot(p[1]) <= radius_mm,
                    Outline::Rectangle { half_mm, along } => {
                        (p[0] * along[0] + p[1] * along[1]).abs() <= half_mm[0]
                            && (p[1] * along[0] - p[0] * along[1]).abs() <= half_mm[1]
                    }
                }
            });
            let density: f64 = planes
                .iter()
                .map(|g| {
                    let p = at(g.depth_mm);
                    let h = p[0] * g.toward_dense[0] + p[1] * g.toward_dense[1] - g.slide_mm;
                    g.ramp.density(h)
                })
                .sum();
            if open { libm::exp10(-density) } else { 0.0 }
        })
        .sum();
    sum / RAYS as f64
}

fn ramps() -> impl Strategy<Value = Ramp> {
    prop_oneof![
        (0.1..2.1).prop_map(|d| Ramp::linear(d, 0.0)),
        (0.1..2.1, 1.0..60.0).prop_map(|(d, l)| Ramp::linear(d, l)),
        (0.3..1.2).prop_map(|d| Ramp::reverse(d, d / 3.0, 40.0)),
    ]
}

fn openings() -> impl Strategy<Value = Aperture> {
    let outline = prop_oneof![
        (20.0..60.0).prop_map(|r| Outline::Circle { radius_mm: r }),
        (25.0..75.0, 25.0..75.0, 0.0..6.3).prop_map(|(w, h, t): (f64, f64, f64)| {
            Outline::Rectangle {
                half_mm: [w, h],
                along: [t.cos(), t.sin()],
            }
        }),
    ];
    (outline, -10.0..10.0, -10.0..10.0, 30.0..160.0).prop_map(|(outline, x, y, depth_mm)| {
        Aperture {
            outline,
            centre_mm: [x, y],
            depth_mm,
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Random rigs against the count of rays: within 1e-3, of which the count itself owes half.
    #[test]
    fn random_rigs_see_what_rays_see(
        diameter in 1.0..45.0_f64,
        near in prop::option::of(400.0..6000.0_f64),
        planes in prop::collection::vec(
            (ramps(), 0.0..360.0, -30.0..30.0, 60.0..160.0)
                .prop_map(|(r, t, s, z)| plane(r, t, s, z)), 0..3),
        apertures in prop::collection::vec(openings(), 0..3),
        x in -0.5..0.5_f64, y in -0.35..0.35_f64,
    ) {
        let pupil = Pupil { diameter_mm: diameter, subject_mm: near.unwrap_or(FAR) };
        let refs: Vec<&Plane> = planes.iter().collect();
        let seen = pupil.seen(&refs, &apertures, [x, y]);
        let rays = by_rays(pupil, &planes, &apertures, [x, y]);
        prop_assert!((seen - rays).abs() < 1e-3, "{seen} against {rays}");
    }

    /// The table that kernels run follows the exact field, between its nodes too.
    #[test]
    fn tables_follow_the_field(
        focal in 18.0..135.0_f64,
        n in prop::sample::select(vec![1.8, 2.8, 5.6, 16.0]),
        turns in prop::collection::vec(prop::sample::select(vec![0.0, 0.0, 30.0, 180.0]), 1..3),
        clip in any::<bool>(),
    ) {
        let view = View { focal_mm: focal, width_mm: 24.89, height_mm: 14.0 };
        let planes = turns.iter().enumerate()
            .map(|(i, t)| plane(Ramp::linear(0.9, 0.0), *t, 3.0, 70.0 + 8.0 * i as f64)).collect();
        let ring = Aperture { outline: Outline::Circle { radius_mm: 36.0 }, centre_mm: [0.0; 2], depth_mm: 60.0 };
        let field = Field {
            pupil: Pupil { diameter_mm: focal / n, subject_mm: FAR },
            planes,
            apertures: if clip { vec![ring] } else { Vec::new() },
        };
        let frame = foreglass::frame::Frame::from_planes(97, 55, std::array::from_fn(|_| vec![1.0; 97 * 55]));
        let mut lit = frame;
        let fit = field.fit(&view);
        let params = foreglass::kernels::field::Params { fit: &fit, view };
        foreglass::kernels::field::cpu(&mut lit, &params);
        for (px, py) in [(0, 0), (96, 54), (48, 27), (13, 40), (70, 9), (31, 22)] {
            let x = ((px as f64 + 0.5) / 97.0 - 0.5) * view.width_mm;
            let y = (0.5 - (py as f64 + 0.5) / 55.0) * view.height_mm;
            let (got, wanted) = (f64::from(lit.pixel(px, py)[0]), field.at(&view, x, y));
            prop_assert!(
                (got - wanted).abs() < foreglass::kernels::field::TOLERANCE,
                "({px}, {py}): {got} against {wanted}"
            );
        }
    }
}
