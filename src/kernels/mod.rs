//! One file per light pass: its parameters and its pixel code.

// What a kernel and its shader share.
pub mod shader;

// Scattered light: the frame convolved with a mixture of Gaussians.
pub mod scatter;

// Scattered light that has a direction.
pub mod oriented;

// Scattered light of a wide lens.
pub mod stretch;

// Cosine and sine transforms of whole planes.
pub mod dct;

// Uniform colour.
pub mod matrix;

// Light added evenly.
pub mod lift;

// Placed glass and openings.
pub mod field;

// A polarised sky.
pub mod sky;

// Light to codes for a screen.
pub mod screen;

mod pyramid;

/// Every kernel that has a shader.
pub const SHADERS: &[&shader::Shader] = &[
    &matrix::SHADER,
    &lift::SHADER,
    &field::SHADER,
    &sky::SHADER,
    &pyramid::twin::SHADER,
    &scatter::SHADER,
    &oriented::SHADER,
    &stretch::SHADER,
    &screen::SHADER,
];
