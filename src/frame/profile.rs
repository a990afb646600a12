//! The ICC profiles that are embedded in what is written.
//!
//! Laid out here byte by byte, version 4.4, because strict readers drop a profile whose tags are not
//! on four-byte borders or whose illuminant is not D50 to the last bit. Source: ICC.1:2022: header
//! 7.2, tag table 7.3, `mluc` 10.15, `XYZ ` 10.31, `para` 10.18, `curv` 10.6, `cicp` 9.2.17 and 10.3.

use super::icc::to_pcs;
use crate::colour::adapt::bradford;
use crate::colour::primaries::Space;
use crate::colour::transfer::{Curve, pq_eotf};
use crate::colour::{Matrix3, Xyz};

/// The connection space's illuminant in the header's own fixed-point numbers.
const D50: [u32; 3] = [0xF6D6, 0x1_0000, 0xD32D];
const HEADER: usize = 128;

/// The profile of a picture of these primaries and this curve, which the description names.
pub(super) fn bytes(space: Space, curve: Curve) -> Vec<u8> {
    let name = match (space, curve) {
        (Space::Srgb, Curve::Srgb) => "sRGB",
        (Space::Srgb, _) => "BT.709 primaries, linear",
        (Space::DisplayP3, _) => "Display P3",
        (Space::Bt2020, _) => "BT.2020 PQ",
        (Space::AcesCg | Space::Aces2065, _) => "ACEScg, linear",
    };
    let [x, y, z] = to_pcs(space).rows();
    let colorant = |i: usize| xyz([x[i], y[i], z[i]].map(fixed));
    let trc = curve_tag(curve);
    let [wx, wy] = space.white();
    let d50 = Xyz::new(0.9642, 1.0, 0.8249);
    let mut tags = vec![
        (*b"desc", text(name)),
        (*b"cprt", text("No copyright, use freely")),
        (*b"wtpt", xyz(D50)),
        (*b"chad", matrix(&bradford(Xyz::from_xy(wx, wy), d50))),
        (*b"rXYZ", colorant(0)),
        (*b"gXYZ", colorant(1)),
        (*b"bXYZ", colorant(2)),
        (*b"rTRC", trc.clone()),
        (*b"gTRC", trc.clone()),
        (*b"bTRC", trc),
    ];
    if curve == Curve::Pq {
        // ITU-T H.273: BT.2020 primaries, PQ, no matrix, full range.
        tags.push((
            *b"cicp",
            [b"cicp\0\0\0\0".as_slice(), &[9, 16, 0, 1]].concat(),
        ));
    }
    assemble(&tags)
}

fn assemble(tags: &[([u8; 4], Vec<u8>)]) -> Vec<u8> {
    let start = HEADER + 4 + 12 * tags.len();
    let mut table = (tags.len() as u32).to_be_bytes().to_vec();
    let mut body: Vec<u8> = Vec::new();
    let mut last: Option<(&Vec<u8>, usize)> = None;
    for (name, data) in tags {
        // Equal neighbours share their bytes: one curve for three channels.
        let at = match last {
            Some((same, at)) if same == data => at,
            _ => {
                let at = start + body.len();
                body.extend(data);
                body.resize(body.len().next_multiple_of(4), 0);
                at
            }
        };
        last = Some((data, at));
        table.extend(name);
        table.extend((at as u32).to_be_bytes());
        table.extend((data.len() as u32).to_be_bytes());
    }
    let mut out = Vec::with_capacity(start + body.len());
    out.extend(((start + body.len()) as u32).to_be_bytes());
    out.extend(b"\0\0\0\0\x04\x40\0\0mntrRGB XYZ ");
    // A fixed date, so that the same picture is the same file.
    out.extend(
        [2026_u16, 1, 1, 0, 0, 0]
            .iter()
            .flat_map(|v| v.to_be_bytes()),
    );
    out.extend(b"acsp");
    out.resize(64, 0);
    // Relative colorimetric.
    out.extend(1_u32.to_be_bytes());
    out.extend(D50.iter().flat_map(|v| v.to_be_bytes()));
    out.resize(HEADER, 0);
    out.extend(table);
    out.extend(body);
    out
}

/// s15Fixed16, rounded to the nearest.
fn fixed(v: f64) -> u32 {
    ((v * 65_536.0).round() as i32).cast_unsigned()
}

fn xyz(v: [u32; 3]) -> Vec<u8> {
    b"XYZ \0\0\0\0"
        .iter()
        .copied()
        .chain(v.iter().flat_map(|v| v.to_be_bytes()))
        .collect()
}

fn matrix(m: &Matrix3) -> Vec<u8> {
    let all = m
        .rows()
        .into_iter()
        .flatten()
        .flat_map(|v| fixed(v).to_be_bytes());
    b"sf32\0\0\0\0".iter().copied().chain(all).collect()
}

fn text(words: &str) -> Vec<u8> {
    let body: Vec<u8> = words.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let mut out = b"mluc\0\0\0\0\0\0\0\x01\0\0\0\x0CenGB".to_vec();
    out.extend((body.len() as u32).to_be_bytes());
    out.extend(28_u32.to_be_bytes());
    out.extend(body);
    out
}

fn curve_tag(curve: Curve) -> Vec<u8> {
    match curve {
        Curve::Srgb => {
            // Type 3: (a X + b)^g from d upward, c X below.
            let terms = [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045];
            let terms = terms.iter().flat_map(|&v| fixed(v).to_be_bytes());
            b"para\0\0\0\0\0\x03\0\0"
                .iter()
                .copied()
                .chain(terms)
                .collect()
        }
        Curve::Pq => {
            // For readers that do not know the cicp tag; 1.0 is 10 000 cd/m².
            const POINTS: u32 = 4096;
            let mut out = b"curv\0\0\0\0".to_vec();
            out.extend(POINTS.to_be_bytes());
            for i in 0..POINTS {
                let light = pq_eotf(f64::from(i) / f64::from(POINTS - 1)) / 10_000.0;
                out.extend(((light * 65_535.0).round() as u16).to_be_bytes());
            }
            out
        }
        // No points: the identity.
        _ => b"curv\0\0\0\0\0\0\0\0".to_vec(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn srgb_colorants_are_the_published_ones() {
        // The sRGB colorants adapted to D50, as the ICC publishes them for its sRGB v4 display
        // profile: red 0.43607 0.22249 0.01392, green 0.38515 0.71687 0.09708,
        // blue 0.14307 0.06061 0.71410 (from memory, four places).
        let m = to_pcs(Space::Srgb).rows();
        let want = [
            [0.43607, 0.38515, 0.14307],
            [0.22249, 0.71687, 0.06061],
            [0.01392, 0.09708, 0.71410],
        ];
        for (row, want) in m.iter().flatten().zip(want.iter().flatten()) {
            assert!((row - want).abs() < 2e-4, "{row} for {want}");
        }
    }

    #[test]
    fn tags_lie_on_four_byte_borders_inside_the_profile() {
        for (space, curve) in [(Space::Srgb, Curve::Srgb), (Space::Bt2020, Curve::Pq)] {
            let p = bytes(space, curve);
            let word = |at: usize| u32::from_be_bytes([p[at], p[at + 1], p[at + 2], p[at + 3]]);
            assert_eq!(word(0) as usize, p.len(), "the header's length");
            assert_eq!((p.len() % 4, &p[36..40]), (0, &b"acsp"[..]), "signature");
            for tag in 0..word(128) as usize {
                let (at, size) = (word(136 + 12 * tag) as usize, word(140 + 12 * tag) as usize);
                assert!(at % 4 == 0 && at + size <= p.len(), "tag {tag} at {at}");
            }
        }
    }
}
