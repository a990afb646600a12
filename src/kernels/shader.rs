//! The twin of a kernel: its WGSL, the constants that both share, and its uniforms' layout.
//!
//! A constant is written once, in Rust, and put before the shader's own text; a uniform struct is
//! declared once on either side, and a test compares every offset of the two.

use std::fmt::Write as _;

/// Samples across and down that one workgroup handles: runs of a row, so that neighbours read together. Of 16×16, 32×8,
/// 64×4, 128×2 and this, this is the fastest on an H200, by 3 to 5 %.
pub const GROUP: [u32; 2] = [256, 1];

/// Samples in a workgroup.
pub const GROUP_SIZE: u32 = GROUP[0] * GROUP[1];

/// Rows of samples on a device are a multiple of this long, so that each begins where a binding may: on a
/// boundary of 256 bytes.
pub const ROW: usize = 64;

/// A pixel of a picture whose rows lie channel by channel, `params.stride` samples each: read from `from_`, written to
/// `to`.
pub(super) const PIXELS: &str = "
fn pixel(i: u32) -> vec3<f32> {
    return vec3<f32>(from_[i], from_[i + params.stride], from_[i + 2u * params.stride]);
}

fn put(i: u32, p: vec3<f32>) {
    to[i] = p.x;
    to[i + params.stride] = p.y;
    to[i + 2u * params.stride] = p.z;
}

";

/// A kernel's shader.
#[derive(Debug)]
pub struct Shader {
    /// The stem of its file, and of the kernel's.
    pub name: &'static str,
    /// WGSL, without the constants.
    pub source: &'static str,
    /// What it shares with others, and stands before it: nothing, [`PIXELS`], or how a level's light is read.
    pub before: &'static str,
    /// What stands before it.
    pub constants: &'static [(&'static str, Constant)],
    /// Its uniform structs.
    pub uniforms: &'static [Layout],
}

/// A constant that a kernel and its shader share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Constant {
    /// A count.
    U32(u32),
    /// A factor.
    F32(f32),
}

/// Where a struct's fields lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// The struct's name, the same in Rust and WGSL.
    pub name: &'static str,
    /// Bytes in all.
    pub size: usize,
    /// Names and offsets in bytes.
    pub fields: &'static [(&'static str, usize)],
}

impl Shader {
    /// The whole text: constants first.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        let common = [
            ("GROUP_X", Constant::U32(GROUP[0])),
            ("GROUP_Y", Constant::U32(GROUP[1])),
            ("GROUP_SIZE", Constant::U32(GROUP_SIZE)),
        ];
        for (name, constant) in common.iter().chain(self.constants) {
            // Writing to a string cannot fail.
            let _written = match constant {
                Constant::U32(v) => writeln!(text, "const {name}: u32 = {v}u;"),
                Constant::F32(v) => writeln!(text, "const {name}: f32 = {v:?}f;"),
            };
        }
        text.push_str(self.before);
        text.push_str(self.source);
        text
    }
}

/// What can be laid out for a shader.
pub trait Uniform {
    /// Its bytes, field after field.
    fn bytes(&self) -> Vec<u8>;
}

/// Words of four bytes, alone or in arrays: what uniform structs are made of.
pub trait Words {
    /// Appends them.
    fn put(&self, bytes: &mut Vec<u8>);
}

impl Words for u32 {
    fn put(&self, bytes: &mut Vec<u8>) {
        bytes.extend(self.to_ne_bytes());
    }
}

impl Words for i32 {
    fn put(&self, bytes: &mut Vec<u8>) {
        bytes.extend(self.to_ne_bytes());
    }
}

impl Words for f32 {
    fn put(&self, bytes: &mut Vec<u8>) {
        bytes.extend(self.to_ne_bytes());
    }
}

impl<T: Words, const N: usize> Words for [T; N] {
    fn put(&self, bytes: &mut Vec<u8>) {
        self.iter().for_each(|v| v.put(bytes));
    }
}

/// Declares a struct whose fields are words of four bytes, with its layout.
macro_rules! uniform {
    ($(#[$doc:meta])* pub struct $name:ident {
        $($(#[$field_doc:meta])* pub $field:ident: $type:ty,)*
    }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        #[repr(C)]
        pub struct $name {
            $($(#[$field_doc])* pub $field: $type,)*
        }

        impl $name {
            /// Where its fields lie.
            pub const LAYOUT: $crate::kernels::shader::Layout = $crate::kernels::shader::Layout {
                name: stringify!($name),
                size: size_of::<Self>(),
                fields: &[$((stringify!($field), std::mem::offset_of!(Self, $field)),)*],
            };
        }

        impl $crate::kernels::shader::Uniform for $name {
            fn bytes(&self) -> Vec<u8> {
                let mut bytes = Vec::with_capacity(size_of::<Self>());
                $($crate::kernels::shader::Words::put(&self.$field, &mut bytes);)*
                bytes
            }
        }
    };
}
pub(super) use uniform;
