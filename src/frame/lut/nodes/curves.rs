//! Nodes that bend each channel by a curve: logarithms and powers.

use super::parts::{attribute, params, unknown_style};
use crate::frame::lut::curve::{Below, Curve, Logarithm, Monitor, Toe};
use crate::frame::lut::op::Op;
use roxmltree::Node;

/// Logarithms and their inverses.
pub(in crate::frame::lut) fn log(node: Node<'_, '_>) -> Result<Op, String> {
    let style = node.attribute("style").ok_or("its style is not told")?;
    let told = params(node, "LogParams")?;
    let plain = match style {
        "log10" => Some(Curve::ToLog(Logarithm::plain(10.0), None)),
        "antiLog10" => Some(Curve::ToLin(Logarithm::plain(10.0), None)),
        "log2" => Some(Curve::ToLog(Logarithm::plain(2.0), None)),
        "antiLog2" => Some(Curve::ToLin(Logarithm::plain(2.0), None)),
        "linToLog" | "logToLin" | "cameraLinToLog" | "cameraLogToLin" => None,
        other => return Err(unknown_style(other)),
    };
    if let Some(curve) = plain {
        if told.iter().any(Option::is_some) {
            return Err(format!("LogParams do not belong to the style {style}"));
        }
        return Ok(Op::Curves([curve; 3]));
    }
    // A channel without a curve of its own has none that could be guessed.
    let count = told.iter().flatten().count();
    if count % 3 != 0 {
        return Err("LogParams are told for some channels and not for all".to_owned());
    }
    let mut curves = [Curve::ToLog(Logarithm::plain(2.0), None); 3];
    for (curve, told) in curves.iter_mut().zip(told) {
        *curve = log_curve(style, told)?;
    }
    Ok(Op::Curves(curves))
}

fn log_curve(style: &str, told: Option<Node<'_, '_>>) -> Result<Curve, String> {
    let value = |name: &str| told.map_or(Ok(None), |t| attribute(t, name));
    let curve = Logarithm {
        base: value("base")?.unwrap_or(2.0),
        lin_slope: value("linSideSlope")?.unwrap_or(1.0),
        lin_offset: value("linSideOffset")?.unwrap_or(0.0),
        log_slope: value("logSideSlope")?.unwrap_or(1.0),
        log_offset: value("logSideOffset")?.unwrap_or(0.0),
    };
    if curve.base <= 0.0 || (curve.base - 1.0).abs() < 1e-9 {
        return Err(format!(
            "base {} is out of range: above 0, and not 1",
            curve.base
        ));
    }
    for (name, v) in [
        ("linSideSlope", curve.lin_slope),
        ("logSideSlope", curve.log_slope),
    ] {
        if v.abs() <= 0.0 {
            return Err(format!("{name} is 0"));
        }
    }
    let (lin_break, slope) = (value("linSideBreak")?, value("linearSlope")?);
    let toe = match (style.starts_with("camera"), lin_break) {
        (false, None) if slope.is_none() => None,
        (false, _) => {
            let words = "linSideBreak and linearSlope belong to the camera's styles";
            return Err(format!("{words}, not to {style}"));
        }
        (true, None) => return Err("linSideBreak is not told".to_owned()),
        (true, Some(lin_break)) => {
            if curve.lin_slope * lin_break + curve.lin_offset <= 0.0 {
                return Err(format!("there is no logarithm at linSideBreak {lin_break}"));
            }
            if slope.is_some_and(|s| s.abs() <= 0.0) {
                return Err("linearSlope is 0".to_owned());
            }
            Some(Toe::under(&curve, lin_break, slope))
        }
    };
    Ok(match style {
        "linToLog" | "cameraLinToLog" => Curve::ToLog(curve, toe),
        _ => Curve::ToLin(curve, toe),
    })
}

/// Powers, bare and with a straight piece near black.
pub(in crate::frame::lut) fn exponent(node: Node<'_, '_>) -> Result<Op, String> {
    let style = node.attribute("style").ok_or("its style is not told")?;
    let told = params(node, "ExponentParams")?;
    if told.iter().all(Option::is_none) {
        return Err("ExponentParams are not told".to_owned());
    }
    let mut curves = [Curve::Power(1.0, Below::Pass); 3];
    for (curve, told) in curves.iter_mut().zip(told) {
        // A channel that is not told has a power of 1; what the style does below zero holds for it.
        if let Some(told) = told {
            *curve = exponent_curve(style, told)?;
        } else if matches!(style, "basicFwd" | "basicRev") {
            *curve = Curve::Power(1.0, Below::Clamp);
        }
    }
    Ok(Op::Curves(curves))
}

fn exponent_curve(style: &str, told: Node<'_, '_>) -> Result<Curve, String> {
    let power = attribute(told, "exponent")?.ok_or("exponent is not told")?;
    let offset = attribute(told, "offset")?;
    let range = |name: &str, v: f64, low: f64, high: f64| {
        if (low..=high).contains(&v) {
            Ok(v)
        } else {
            Err(format!("{name} {v} is out of range: {low} to {high}"))
        }
    };
    let basic = |below: Below| {
        if offset.is_some() {
            return Err(format!("an offset does not belong to the style {style}"));
        }
        let power = range("exponent", power, 0.01, 100.0)?;
        let power = if style.ends_with("Rev") {
            1.0 / power
        } else {
            power
        };
        Ok(Curve::Power(power, below))
    };
    let monitor = |mirrored: bool| {
        let power = range("exponent", power, 1.0, 10.0)?;
        let offset = offset.ok_or("offset is not told")?;
        let curve = Monitor::new(power, range("offset", offset, 0.0, 0.9)?, mirrored);
        Ok::<_, String>(if style.ends_with("Rev") {
            Curve::MonitorBack(curve)
        } else {
            Curve::Monitor(curve)
        })
    };
    match style {
        "basicFwd" | "basicRev" => basic(Below::Clamp),
        "basicMirrorFwd" | "basicMirrorRev" => basic(Below::Mirror),
        "basicPassThruFwd" | "basicPassThruRev" => basic(Below::Pass),
        "monCurveFwd" | "monCurveRev" => monitor(false),
        "monCurveMirrorFwd" | "monCurveMirrorRev" => monitor(true),
        other => Err(unknown_style(other)),
    }
}
