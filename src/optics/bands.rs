//! The bands of the working light's channels, as the laws of scatter use them.

use std::sync::OnceLock;

/// For each of R, G, B: (wavelength in µm, weight), weights of unit sum, no zeros.
pub(super) fn bands() -> &'static [Vec<(f64, f64)>; 3] {
    static BANDS: OnceLock<[Vec<(f64, f64)>; 3]> = OnceLock::new();
    BANDS.get_or_init(build)
}

fn build() -> [Vec<(f64, f64)>; 3] {
    // XYZ to AP1 (the inverse of the ACES matrix).
    const TO_AP1: [[f64; 3]; 3] = [
        [1.641_023_379_7, -0.324_803_294_2, -0.236_424_695_2],
        [-0.663_662_858_7, 1.615_331_591_7, 0.016_756_347_7],
        [0.011_721_894_3, -0.008_284_442_0, 0.988_394_858_5],
    ];
    let table = include_str!("../../tests/checks/cie1931_2deg_5nm_A_D55_D65.csv");
    let mut out = [Vec::new(), Vec::new(), Vec::new()];
    for line in table.lines().skip(1) {
        let row: Vec<f64> = line
            .split(',')
            .take(4)
            .filter_map(|v| v.parse().ok())
            .collect();
        if row.len() < 4 || row[0] < 380.0 || row[0] > 780.0 {
            continue;
        }
        for (channel, m) in out.iter_mut().zip(TO_AP1) {
            let weight = m[0] * row[1] + m[1] * row[2] + m[2] * row[3];
            if weight > 0.0 {
                channel.push((row[0] * 1e-3, weight));
            }
        }
    }
    for channel in &mut out {
        let sum: f64 = channel.iter().map(|(_, w)| w).sum();
        for (_, w) in channel {
            *w /= sum;
        }
    }
    out
}
