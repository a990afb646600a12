//! Embedded ICC profiles: reading what one says.
//!
//! A profile of curves and primaries (nearly every camera's, phone's and display's) is taken apart:
//! its curves become tables, its colorants (XYZ at D50, adapted by Bradford as ICC.1 asks) a matrix
//! to working light, in full range and with nothing clipped. A profile that holds tables, which then
//! outrank its primaries, goes through the profile library into AP0, which holds every real colour;
//! relative colorimetric where the profile has that table, else perceptual. On the way it is coded by
//! the sRGB curve, because the library interpolates and light itself is too steep for that near black.
//!
//! Source: ICC.1:2022, F.3 (the matrix model) and 9.2 (tags).

use super::limits::one_line;
use crate::colour::adapt::bradford;
use crate::colour::primaries::Space;
use crate::colour::transfer::Curve;
use crate::colour::{Matrix3, Xyz};
use moxcms::{
    ColorProfile, DataColorSpace, Layout, LutType, LutWarehouse, Matrix3d, RenderingIntent,
    ToneCurveEvaluator, ToneReprCurve, TransferCharacteristics, TransformF32Executor,
    TransformOptions,
};
use std::sync::Arc;

/// Codes to light, one channel.
#[derive(Clone)]
pub(super) enum Lane {
    Curve(Curve),
    Icc(Arc<dyn ToneCurveEvaluator + Send + Sync>),
}

impl Lane {
    pub(super) fn light(&self, code: f32) -> f32 {
        match self {
            Self::Curve(curve) => curve.decode(code),
            // A damaged curve may hold anything.
            Self::Icc(curve) => match curve.evaluate_value(code) {
                light if light.is_nan() => 0.0,
                light => light.clamp(-1e6, 1e6),
            },
        }
    }

    /// Whether it is a display's curve, a power of about two: code one half is a small part of its light.
    pub(super) fn for_display(&self) -> bool {
        match self {
            Self::Curve(curve) => matches!(curve, Curve::Srgb | Curve::Bt1886 | Curve::Bt709),
            Self::Icc(_) => (0.1..0.35).contains(&(self.light(0.5) / self.light(1.0))),
        }
    }
}

/// What a profile does to a picture.
pub(super) enum Profile {
    /// A curve for each channel, then a matrix to working light.
    Shaper([Lane; 3], Matrix3),
    /// Interleaved codes (RGB) to interleaved AP0, coded by the sRGB curve.
    Tables(Arc<TransformF32Executor>),
}

/// Reads a profile for a picture of grey (`grey`) or of RGB samples. The error is half a sentence.
pub(super) fn parse(bytes: &[u8], grey: bool) -> Result<Profile, String> {
    let profile = ColorProfile::new_from_slice(bytes).map_err(|e| one_line(&format!("{e:?}")))?;
    if grey && profile.color_space == DataColorSpace::Gray {
        let lane = lane(profile.gray_trc.as_ref())?;
        return Ok(Profile::Shaper(
            [lane.clone(), lane.clone(), lane],
            Matrix3::IDENTITY,
        ));
    }
    if profile.color_space != DataColorSpace::Rgb {
        return Err(format!("it is for {:?} pictures", profile.color_space));
    }
    let tables = [
        (
            profile.lut_a_to_b_colorimetric.as_ref(),
            RenderingIntent::RelativeColorimetric,
        ),
        (
            profile.lut_a_to_b_perceptual.as_ref(),
            RenderingIntent::Perceptual,
        ),
        (
            profile.lut_a_to_b_saturation.as_ref(),
            RenderingIntent::Saturation,
        ),
    ];
    let table = tables.into_iter().find(|(table, _)| table.is_some());
    let Some((Some(table), rendering_intent)) = table else {
        if !profile.is_matrix_shaper() {
            return Err("it holds neither curves and primaries nor a table".to_owned());
        }
        let from_pcs = pcs_to_working().ok_or("it has no inverse")?;
        let matrix = from_pcs * rows(&profile.colorant_matrix());
        if !matrix.is_finite() || matrix.inverse().is_none() {
            return Err("its primaries do not span a gamut".to_owned());
        }
        // A PQ or HLG profile says so by its cicp tag; its own curve tables are display-scaled.
        let coded = profile
            .cicp
            .as_ref()
            .and_then(|c| match c.transfer_characteristics {
                TransferCharacteristics::Smpte2084 => Some(Curve::Pq),
                TransferCharacteristics::Hlg => Some(Curve::Hlg),
                _ => None,
            });
        if let Some(curve) = coded {
            return Ok(Profile::Shaper(
                [(); 3].map(|()| Lane::Curve(curve)),
                matrix,
            ));
        }
        let lanes = [
            lane(profile.red_trc.as_ref())?,
            lane(profile.green_trc.as_ref())?,
            lane(profile.blue_trc.as_ref())?,
        ];
        return Ok(Profile::Shaper(lanes, matrix));
    };
    let options = TransformOptions {
        rendering_intent,
        prefer_fixed_point: false,
        ..TransformOptions::default()
    };
    let mut target = ColorProfile::new_srgb();
    set_colorants(&mut target, Space::Aces2065);
    lab_coded_by_its_table(bytes, table)
        .unwrap_or_else(|| profile.clone())
        .create_transform_f32(Layout::Rgb, &target, Layout::Rgb, options)
        .map(Profile::Tables)
        .map_err(|e| one_line(&format!("{e:?}")))
}

/// The profile again, with the version that makes the library decode Lab rightly.
///
/// A 16-bit table (`mft2`) keeps the older coding of Lab in every version of the format, an 8-bit one
/// and `mAB` the newer (ICC.1:2022, 6.3.4.2 and 10.10); the library goes by the version in the header
/// alone, which would shift a version-4 profile of such tables by half a unit of a and b.
fn lab_coded_by_its_table(bytes: &[u8], table: &LutWarehouse) -> Option<ColorProfile> {
    let older = matches!(table, LutWarehouse::Lut(t) if t.lut_type == LutType::Lut16);
    let mut copy = bytes.to_vec();
    copy.get_mut(8..10)?
        .copy_from_slice(if older { &[2, 0x40] } else { &[4, 0x30] });
    ColorProfile::new_from_slice(&copy).ok()
}

fn lane(curve: Option<&ToneReprCurve>) -> Result<Lane, String> {
    let curve = curve.ok_or("a curve is missing")?;
    let evaluator = curve
        .make_linear_evaluator()
        .map_err(|e| one_line(&format!("{e:?}")))?;
    Ok(Lane::Icc(Arc::from(evaluator)))
}

fn rows(m: &Matrix3d) -> Matrix3 {
    Matrix3::from_rows(m.v)
}

/// A space's light to XYZ at the profile connection space's D50, Bradford.
pub(super) fn to_pcs(space: Space) -> Matrix3 {
    let [x, y] = space.white();
    // ICC.1:2022, 7.2.16: the illuminant of the connection space, as its header carries it.
    let d50 = Xyz::new(0.9642, 1.0, 0.8249);
    bradford(Xyz::from_xy(x, y), d50) * space.to_xyz()
}

fn pcs_to_working() -> Option<Matrix3> {
    to_pcs(Space::AcesCg).inverse()
}

/// Gives a profile a space's primaries, from the same numbers that the rest of the program uses.
fn set_colorants(profile: &mut ColorProfile, space: Space) {
    let [x, y, z] = to_pcs(space).rows();
    let column = |i: usize| moxcms::Xyzd {
        x: x[i],
        y: y[i],
        z: z[i],
    };
    profile.red_colorant = column(0);
    profile.green_colorant = column(1);
    profile.blue_colorant = column(2);
    profile.cicp = None;
}
