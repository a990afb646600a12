//! Every column of the reference tables of circles and of hard edges.

use crate::checks::Table;
use foreglass::optics::pupil::{Aperture, Outline, Plane, Pupil, Ramp};

/// `vignette.csv`: where a ring begins to cut and where it has cut all, atan((R ∓ r)/z), and how far from
/// the axis the chief ray passes, z·tan θ (derived there).
#[test]
fn a_ring_begins_and_ends_where_the_table_says() {
    for row in Table::read("vignette.csv").rows() {
        let z = row.number("z_mm");
        let pupil = Pupil {
            diameter_mm: 2.0 * row.number("pupil_r_mm"),
            subject_mm: f64::INFINITY,
        };
        let ring = Aperture {
            outline: Outline::Circle {
                radius_mm: row.number("ring_R_mm"),
            },
            centre_mm: [0.0; 2],
            depth_mm: z,
        };
        let seen = |theta: f64| pupil.seen(&[], &[ring], [0.0, theta.to_radians().tan()]);
        let (start, cut) = (row.number("theta_start_deg"), row.number("theta_cut_deg"));
        // The table has four decimals; the overlap leaves 1 as the distance to the power 3/2.
        assert!(seen(start - 1e-4) >= 1.0, "{start}: {}", seen(start - 1e-4));
        assert!(seen(start + 0.01) < 1.0, "{start}: {}", seen(start + 0.01));
        assert!(seen(cut + 1e-4) <= 0.0, "{cut}: {}", seen(cut + 1e-4));
        assert!(seen(cut - 0.01) > 0.0, "{cut}: {}", seen(cut - 0.01));
        let offset = z * row.number("theta_deg").to_radians().tan();
        assert!((offset - row.number("offset_mm")).abs() < 2e-4, "{offset}");
        let there = pupil.seen(&[], &[ring], [row.number("offset_mm") / z, 0.0]);
        let wanted = row.number("visible_pupil_fraction");
        // Four decimals of a millimetre are 2e-5 of the smallest pupil.
        assert!((there - wanted).abs() < 3e-5, "{there} for {wanted}");
    }
}

/// `grad_geometry.csv`: the angle that a hard edge takes in all, 2·atan(width/2f), and the part of it
/// between a tenth and nine tenths, 0.687049 (derived there).
#[test]
fn a_hard_edge_takes_the_angle_that_the_table_says() {
    for row in Table::read("grad_geometry.csv").rows() {
        let (f, z) = (row.number("f_mm"), row.number("z_mm"));
        let pupil = Pupil {
            diameter_mm: f / row.number("N"),
            subject_mm: row.text("subject_mm").parse().unwrap_or(f64::INFINITY),
        };
        let edge = Plane {
            ramp: Ramp::linear(20.0, 0.0),
            dye: None,
            toward_dense: [0.0, 1.0],
            slide_mm: 0.0,
            depth_mm: z,
        };
        let seen = |mm: f64| pupil.seen(&[&edge], &[], [0.0, mm / f]);
        let end = f * (0.5 * row.number("angle_full_deg")).to_radians().tan();
        assert!(seen(-1.0001 * end) >= 1.0 - 1e-12, "clear beyond −{end}");
        assert!(seen(-0.995 * end) < 1.0, "begun at −{end}");
        assert!(
            seen(1.0001 * end) < 1e-12 && seen(0.995 * end) > 1e-6,
            "{end}"
        );
        let part = row.number("10_90_frac_of_full");
        assert!(
            (seen(part * end) - 0.1).abs() < 1e-6,
            "{}",
            seen(part * end)
        );
        assert!(
            (seen(-part * end) - 0.9).abs() < 1e-6,
            "{}",
            seen(-part * end)
        );
    }
}
