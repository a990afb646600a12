//! Embedded ICC profiles: reading what one says, and making the ones that are written.
//!
//! A profile of curves and primaries (nearly every camera's, phone's and display's) is taken apart:
//! its curves become tables, its colorants (XYZ at D50, adapted by Bradford as ICC.1 asks) a matrix
//! to working light, in full range and with nothing clipped. A profile made of tables alone goes
//! through the profile library, relative colorimetric, into linear AP0, which holds every real colour.
//!
//! Source: ICC.1:2022, F.3 (the matrix model) and 9.2 (tags).

use super::limits::one_line;
use crate::colour::Matrix3;
use crate::colour::primaries::Space;
use crate::colour::transfer::Curve;
use moxcms::{
    ColorProfile, DataColorSpace, Layout, LocalizableString, Matrix3d, ProfileText,
    RenderingIntent, ToneCurveEvaluator, ToneReprCurve, TransferCharacteristics,
    TransformF32Executor, TransformOptions,
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
            Self::Icc(curve) => curve.evaluate_value(code),
        }
    }
}

/// What a profile does to a picture.
pub(super) enum Profile {
    /// A curve for each channel, then a matrix to working light.
    Shaper([Lane; 3], Matrix3),
    /// Interleaved codes (RGB) to interleaved linear AP0.
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
    if profile.is_matrix_shaper() {
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
    }
    let options = TransformOptions {
        rendering_intent: RenderingIntent::RelativeColorimetric,
        prefer_fixed_point: false,
        ..TransformOptions::default()
    };
    let linear = ColorProfile::new_aces_aces_2065_1_linear();
    profile
        .create_transform_f32(Layout::Rgb, &linear, Layout::Rgb, options)
        .map(Profile::Tables)
        .map_err(|e| one_line(&format!("{e:?}")))
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

/// XYZ at the profile connection space's D50 to working light, Bradford.
fn pcs_to_working() -> Option<Matrix3> {
    rows(&ColorProfile::new_aces_cg_linear().colorant_matrix()).inverse()
}

/// The profile to embed in a picture of these primaries and this curve.
pub(super) fn profile_bytes(space: Space, curve: Curve) -> Option<Vec<u8>> {
    let mut profile = match (space, curve) {
        (Space::Bt2020, Curve::Pq) => ColorProfile::new_bt2020_pq(),
        (Space::Bt2020, _) => ColorProfile::new_bt2020(),
        (Space::DisplayP3, _) => ColorProfile::new_display_p3(),
        (Space::AcesCg, _) => ColorProfile::new_aces_cg_linear(),
        _ => ColorProfile::new_srgb(),
    };
    let name = match (space, curve) {
        (Space::Bt2020, Curve::Pq) => "BT.2020 PQ",
        (Space::DisplayP3, Curve::Srgb) => "Display P3",
        (Space::AcesCg, Curve::Linear) => "ACEScg, linear",
        (Space::Srgb, Curve::Linear) => "BT.709 primaries, linear",
        (Space::Srgb, Curve::Srgb) => "sRGB IEC61966-2.1",
        _ => return None,
    };
    if curve == Curve::Linear {
        let line = ToneReprCurve::Lut(Vec::new());
        profile.red_trc = Some(line.clone());
        profile.green_trc = Some(line.clone());
        profile.blue_trc = Some(line);
    }
    match profile.cicp.as_mut() {
        // Only PQ needs the tag, and RGB is full range with no matrix coefficients.
        Some(cicp) if curve == Curve::Pq => {
            cicp.matrix_coefficients = moxcms::MatrixCoefficients::Identity;
            cicp.full_range = true;
        }
        _ => profile.cicp = None,
    }
    profile.rendering_intent = RenderingIntent::RelativeColorimetric;
    profile.description = Some(ProfileText::Localizable(vec![LocalizableString::new(
        "en".to_owned(),
        "US".to_owned(),
        name.to_owned(),
    )]));
    profile.encode().ok()
}
