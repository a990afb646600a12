//! A baseline JPEG encoder, as plain as can be: colour at half size both ways or at full size, the
//! quantisation of ITU-T T.81 annex K (tables K.1 and K.2) scaled to a quality by the common rule of the free
//! reference coder (from memory), and code tables of one length, which the standard allows.

use std::f64::consts::PI;

const LUMA: [u16; 64] = [
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113,
    92, 49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
];
const CHROMA: [u16; 64] = [
    17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99, 24, 26, 56, 99, 99, 99, 99, 99,
    47, 66, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
    99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
];

/// Places of a block in the order of rising frequency.
fn zigzag() -> Vec<usize> {
    let mut order: Vec<usize> = (0..64).collect();
    order.sort_by_key(|i| {
        let (u, v) = (i % 8, i / 8);
        (u + v, if (u + v) % 2 == 0 { u } else { v })
    });
    order
}

struct Bits {
    out: Vec<u8>,
    held: u32,
    count: u32,
}

impl Bits {
    fn put(&mut self, value: u32, length: u32) {
        for k in (0..length).rev() {
            self.held = self.held << 1 | (value >> k & 1);
            self.count += 1;
            if self.count == 8 {
                self.out.push(self.held as u8);
                if self.held == 255 {
                    self.out.push(0);
                }
                (self.held, self.count) = (0, 0);
            }
        }
    }

    /// A number in as many bits as its size, negative ones as their complement.
    fn amount(&mut self, value: i32, size: u32) {
        let bits = if value < 0 {
            value + (1 << size) - 1
        } else {
            value
        };
        self.put(bits as u32, size);
    }
}

fn size(value: i32) -> u32 {
    32 - value.unsigned_abs().leading_zeros()
}

/// An RGB picture of 8 bits as a JPEG.
pub(super) fn encode(rgb: &[u8], (w, h): (usize, usize), quality: u32, half: bool) -> Vec<u8> {
    let scale = if quality < 50 {
        5000 / quality
    } else {
        200 - 2 * quality
    };
    let scaled = |t: &[u16; 64]| t.map(|q| ((u32::from(q) * scale + 50) / 100).clamp(1, 255) as u8);
    let tables = [scaled(&LUMA), scaled(&CHROMA)];
    let order = zigzag();
    let mut out = vec![0xFF, 0xD8];
    for (n, table) in tables.iter().enumerate() {
        out.extend([0xFF, 0xDB, 0, 67, n as u8]);
        out.extend(order.iter().map(|i| table[*i]));
    }
    let side = |n: usize| (n as u16).to_be_bytes();
    let sampling = if half { 0x22 } else { 0x11 };
    out.extend([0xFF, 0xC0, 0, 17, 8]);
    out.extend(side(h).iter().chain(&side(w)));
    out.extend([3, 1, sampling, 0, 2, 0x11, 1, 3, 0x11, 1]);
    // Twelve sizes of four bits; 256 pairs of nine.
    out.extend([0xFF, 0xC4, 0, 19 + 12, 0x00, 0, 0, 0, 12]);
    out.extend([0; 12]);
    out.extend(0..12_u8);
    let length = (19 + 256_u16).to_be_bytes();
    out.extend([0xFF, 0xC4, length[0], length[1], 0x10]);
    // No row of the table holds more than 255: 255 of nine bits, one of ten.
    out.extend([0, 0, 0, 0, 0, 0, 0, 0, 255, 1, 0, 0, 0, 0, 0, 0]);
    out.extend(0..=255_u8);
    out.extend([0xFF, 0xDA, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 63, 0]);

    let planes = planes(rgb);
    let step = if half { 2 } else { 1 };
    // A sample of a plane at its own size, the edge repeated.
    let sample = |c: usize, x: usize, y: usize| -> f64 {
        let at = |x: usize, y: usize| planes[c][y.min(h - 1) * w + x.min(w - 1)];
        if c == 0 || !half {
            return at(x, y);
        }
        (at(2 * x, 2 * y) + at(2 * x + 1, 2 * y) + at(2 * x, 2 * y + 1) + at(2 * x + 1, 2 * y + 1))
            / 4.0
    };
    let cosine: [[f64; 8]; 8] = std::array::from_fn(|u| {
        let norm = if u == 0 { 0.125_f64.sqrt() } else { 0.5 };
        std::array::from_fn(|x| norm * ((2 * x + 1) as f64 * u as f64 * PI / 16.0).cos())
    });
    let mut bits = Bits {
        out: Vec::new(),
        held: 0,
        count: 0,
    };
    let mut before = [0_i32; 3];
    for my in 0..h.div_ceil(8 * step) {
        for mx in 0..w.div_ceil(8 * step) {
            for c in 0..3 {
                let blocks = if c == 0 { step } else { 1 };
                for (by, bx) in (0..blocks * blocks).map(|b| (b / blocks, b % blocks)) {
                    let (x0, y0) = (8 * (mx * blocks + bx), 8 * (my * blocks + by));
                    let table = &tables[usize::from(c > 0)];
                    let block = transformed(&cosine, |x, y| sample(c, x0 + x, y0 + y) - 128.0);
                    let coded: Vec<i32> = order
                        .iter()
                        .map(|i| (block[*i] / f64::from(table[*i])).round() as i32)
                        .collect();
                    write(&mut bits, &coded, &mut before[c]);
                }
            }
        }
    }
    bits.put(0x7F, 7);
    out.extend(bits.out);
    out.extend([0xFF, 0xD9]);
    out
}

fn planes(rgb: &[u8]) -> [Vec<f64>; 3] {
    // JFIF: BT.601 weights, full range.
    let rows = [
        [0.299, 0.587, 0.114, 0.0],
        [-0.168_736, -0.331_264, 0.5, 128.0],
        [0.5, -0.418_688, -0.081_312, 128.0],
    ];
    rows.map(|[r, g, b, add]| {
        rgb.chunks_exact(3)
            .map(|p| r * f64::from(p[0]) + g * f64::from(p[1]) + b * f64::from(p[2]) + add)
            .map(|v| v.round().clamp(0.0, 255.0))
            .collect()
    })
}

fn transformed(cosine: &[[f64; 8]; 8], sample: impl Fn(usize, usize) -> f64) -> [f64; 64] {
    let block: [f64; 64] = std::array::from_fn(|i| sample(i % 8, i / 8));
    let across: [f64; 64] = std::array::from_fn(|i| {
        let (u, y) = (i % 8, i / 8);
        (0..8).map(|x| cosine[u][x] * block[8 * y + x]).sum()
    });
    std::array::from_fn(|i| {
        let (u, v) = (i % 8, i / 8);
        (0..8).map(|y| cosine[v][y] * across[8 * y + u]).sum()
    })
}

fn write(bits: &mut Bits, coded: &[i32], before: &mut i32) {
    let pair = |bits: &mut Bits, symbol: u32| match symbol {
        255 => bits.put(255 << 1, 10),
        _ => bits.put(symbol, 9),
    };
    let difference = coded[0] - *before;
    *before = coded[0];
    bits.put(size(difference), 4);
    bits.amount(difference, size(difference));
    let mut run = 0;
    for value in &coded[1..] {
        if *value == 0 {
            run += 1;
            continue;
        }
        while run > 15 {
            pair(bits, 0xF0);
            run -= 16;
        }
        pair(bits, run << 4 | size(*value));
        bits.amount(*value, size(*value));
        run = 0;
    }
    if run > 0 {
        pair(bits, 0);
    }
}
