//! Speed of writing and reading pictures at 12 megapixels, by kind of file, on one core and on all.
//! `benches/peer_codecs.py` runs this beside other libraries and prints ratios.
//!
//! The picture has what a photograph has: shading, edges, and noise that grows with the light. `encode` goes
//! from a frame to a file's bytes in memory, light to codes included; `decode` from such bytes to a frame,
//! looking for clipped samples included. `cancel` is how long it takes to stop, at 45 megapixels.

use divan::Bencher;
use foreglass::frame::{Encoding, Frame, Kind, Output, read_bytes, write, write_bytes};
use foreglass::watch::Watch;
use std::io::Cursor;
use std::path::Path;
use std::sync::Arc;
use std::thread;

const SIZE: [usize; 2] = [4243, 2828];
/// 45 megapixels.
const LARGE: [usize; 2] = [8191, 5461];
const KINDS: [&str; 4] = ["jpg", "png", "tif", "exr"];

fn main() {
    if let Some(folder) = std::env::var_os("FOREGLASS_BENCH_FILES") {
        // For the peer, which reads the very same files.
        for kind in KINDS {
            let path = Path::new(&folder).join(format!("bench.{kind}"));
            std::fs::write(path, file(kind)).expect("a folder that can be written to");
        }
    }
    divan::main();
}

/// Sums of four even numbers are near enough to a bell.
fn noise(i: u32) -> f32 {
    let mut h = i;
    h = (h ^ (h >> 16)).wrapping_mul(0x7FEB_352D);
    h = (h ^ (h >> 15)).wrapping_mul(0x846C_A68B);
    h ^= h >> 16;
    let sum: u32 = h.to_le_bytes().into_iter().map(u32::from).sum();
    (sum as f32 - 510.0) / 147.8
}

fn picture([width, height]: [usize; 2]) -> Frame {
    let plane = |c: usize| {
        let light = |i: usize| {
            let (x, y) = (i % width, i / width);
            let wave = (x as f32 / 97.0 + c as f32).sin() * (y as f32 / 61.0).cos();
            let edge = if (x / 181 + y / 131).is_multiple_of(5) {
                3.0
            } else {
                1.0
            };
            let level = 0.18 * edge * (1.0 + 0.8 * wave);
            level + noise((3 * i + c) as u32) * (2e-4 * level + 1e-6).sqrt()
        };
        (0..width * height).map(light).collect()
    };
    Frame::from_planes(width, height, std::array::from_fn(plane))
}

fn bytes(frame: &Frame, ending: &str) -> Vec<u8> {
    let kind = Kind::of(Path::new(&format!("bench.{ending}"))).expect("a kind");
    let mut sink = Cursor::new(Vec::new());
    write_bytes(
        &mut sink,
        kind,
        frame,
        &Output::for_kind(kind),
        &Watch::default(),
    )
    .expect("not cancelled");
    sink.into_inner()
}

fn file(ending: &str) -> Vec<u8> {
    bytes(&picture(SIZE), ending)
}

/// So many cores; 0 is all of them.
fn cores(number: usize) -> rayon::ThreadPool {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(number);
    pool.build().expect("threads")
}

#[divan::bench(args = KINDS, consts = [1, 0], sample_count = 5, sample_size = 1)]
fn encode<const CORES: usize>(bencher: Bencher<'_, '_>, kind: &str) {
    let (frame, pool) = (picture(SIZE), cores(CORES));
    bencher.bench_local(|| pool.install(|| bytes(&frame, kind)));
}

#[divan::bench(args = KINDS, consts = [1, 0], sample_count = 5, sample_size = 1)]
fn decode<const CORES: usize>(bencher: Bencher<'_, '_>, kind: &str) {
    let (file, pool) = (file(kind), cores(CORES));
    bencher.bench_local(|| {
        pool.install(|| read_bytes("bench", &file, Encoding::Auto).expect("a still"))
    });
}

/// From a cancel in the midst of the work until the writer is back and its file gone.
#[divan::bench(args = KINDS, sample_count = 7, sample_size = 1)]
fn cancel(bencher: Bencher<'_, '_>, kind: &str) {
    let frame = Arc::new(picture(LARGE));
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join(format!("bench.{kind}"));
    let begun = || {
        let (frame, path, watch) = (Arc::clone(&frame), path.clone(), Watch::default());
        let own = watch.clone();
        let writing = thread::Builder::new()
            .name("writer".to_owned())
            .spawn(move || {
                let output = Output::for_kind(Kind::of(&path).expect("a kind"));
                write(&path, &frame, &output, &own).is_err()
            });
        let writing = writing.expect("a thread");
        while watch.progress() < 0.3 {
            thread::yield_now();
        }
        (watch, writing)
    };
    bencher
        .with_inputs(begun)
        .bench_local_values(|(watch, writing)| {
            watch.cancel();
            assert!(
                writing.join().expect("no panic"),
                "it was cancelled in time"
            );
        });
}
