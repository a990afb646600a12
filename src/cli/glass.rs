//! `foreglass glass`: the families of glass, and the figures of one.

use super::rig::ledger::{signed, white};
use super::{Failure, figures, json, say};
use crate::colour::illuminant;
use crate::colour::spectrum::Spectrum;
use crate::colour::temperature::Turn;
use crate::glass::control::{Control, Kind, after_number};
use crate::glass::law::Figures;
use crate::glass::strength::Strength;
use crate::glass::{FAMILIES, Family, GlassError, Piece};
use crate::optics::figures::{Spread, patch};
use crate::recipe::option_text;
use crate::rig::camera::Camera;
use crate::units::{Degrees, Extent, Kelvin, Mireds, Nanometres, Stops};
use anyhow::anyhow;
use serde_json::{Map, Value};

/// The families of glass, and their figures
#[derive(Debug, clap::Subcommand)]
pub enum Args {
    /// List the families
    #[command(after_help = "Example:\n  foreglass glass list")]
    List {
        /// As JSON
        #[arg(long)]
        json: bool,
    },
    /// The figures of one piece of glass, without a picture
    #[command(
        after_help = "Examples:\n  foreglass glass show balance --option series=80A\n  \
                      foreglass glass show dark-mist --strength 1/2 --focal 85"
    )]
    Show(Show),
}

/// The figures of one piece of glass
#[derive(Debug, clap::Args)]
pub struct Show {
    /// The family's key, as `foreglass glass list` tells it
    key: String,
    /// Its strength: 1/8, 1/4, 1/2, 1, 2, 3, 4 or 5
    #[arg(long, value_name = "S")]
    strength: Option<String>,
    /// An option of the family; may be repeated
    #[arg(long, value_name = "NAME=VALUE")]
    option: Vec<String>,
    /// Focal length in mm, for sizes on the sensor and MTF
    #[arg(long, value_name = "MM", default_value_t = 50.0)]
    focal: f64,
    /// Half-angle in degrees of the black disc that veiling glare is told of; left out, a disc of a
    /// tenth of the default sensor's height
    #[arg(long, value_name = "DEG")]
    patch: Option<f64>,
    /// Colour temperature of the light; left out, Planckian light of 3200 K for glass that cools and
    /// of 5500 K for the rest
    #[arg(long, value_name = "K")]
    scene_k: Option<f64>,
    /// As JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    match args {
        Args::List { json } => list(*json),
        Args::Show(show) => tell(show),
    }
}

fn list(as_json: bool) -> Result<(), Failure> {
    if as_json {
        let rows: Vec<Value> = FAMILIES.iter().map(|f| family_json(f)).collect();
        return say(&json(&Value::Array(rows)));
    }
    let mut text = String::new();
    for f in FAMILIES {
        text += &format!("{:<12} {}\n", f.key, f.purpose);
        if !f.strengths.is_empty() {
            text += &format!("{:<12}   strengths {}\n", "", words(f.strengths));
        }
        for c in f.controls {
            text += &format!("{:<12}   {}: {}\n", "", c.name, values(c));
        }
    }
    say(&text)
}

fn family_json(f: &Family) -> Value {
    serde_json::json!({
        "key": f.key,
        "name": f.name,
        "purpose": f.purpose,
        "strengths": f.strengths.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "options": f.controls.iter().map(|c| serde_json::json!({
            "name": c.name, "label": c.label, "help": c.help, "values": values(c),
        })).collect::<Vec<_>>(),
        "source": f.source,
        "honesty": f.honesty,
    })
}

fn words(strengths: &[Strength]) -> String {
    strengths
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(", ")
}

/// What a control takes, in words.
fn values(c: &Control) -> String {
    match c.kind {
        Kind::Number {
            unit,
            low,
            high,
            default,
            stock,
        } => {
            let mut text = format!("{low} to {high}{}", after_number(unit));
            if !stock.is_empty() {
                let stock: Vec<_> = stock.iter().map(ToString::to_string).collect();
                text += &format!(", stocked {}", stock.join(" "));
            }
            if let Some(d) = default {
                text += &format!(" (default {d})");
            }
            text
        }
        Kind::Choice { words, default } => {
            let default = default.map_or(String::new(), |d| format!(" (default {d})"));
            format!("{}{default}", words.join(", "))
        }
        Kind::Switch { default } => format!("true, false (default {default})"),
        Kind::File { kinds } => {
            let endings: Vec<_> = kinds.iter().flat_map(|k| k.1).copied().collect();
            format!("the path of a file ({})", endings.join(", "))
        }
    }
}

fn tell(show: &Show) -> Result<(), Failure> {
    let piece = piece(show)?;
    let focal = Extent::new(show.focal)
        .map_err(|e| Failure::Usage(anyhow::Error::new(e).context("--focal")))?;
    let scene = match show.scene_k {
        Some(k) => illuminant::scene(
            Kelvin::new(k)
                .map_err(|e| Failure::Usage(anyhow::Error::new(e).context("--scene-k")))?,
        ),
        None => usual_scene(&piece),
    };
    let patch = match show.patch {
        None => patch(Camera::default().sensor_mm[1], focal),
        Some(deg) if deg > 0.0 && deg < 90.0 => Degrees::clamped(deg),
        Some(deg) => {
            let limit =
                anyhow!("--patch {deg}: a half-angle of more than 0 and less than 90 degrees");
            return Err(Failure::Usage(limit));
        }
    };
    let report = Report::new(&piece, &scene, focal, patch);
    say(&if show.json {
        json(&report.json())
    } else {
        report.text()
    })
}

/// The piece that the command line asks for.
fn piece(show: &Show) -> Result<Piece, Failure> {
    let usage = |e: anyhow::Error| Failure::Usage(e);
    let family = Family::find(&show.key).map_err(|e| usage(e.into()))?;
    let strength = show
        .strength
        .as_deref()
        .map(str::parse::<Strength>)
        .transpose()
        .map_err(|e| usage(e.into()))?;
    let mut options = Map::new();
    for option in &show.option {
        let (name, value) = option
            .split_once('=')
            .ok_or_else(|| usage(anyhow!("--option {option}: write NAME=VALUE")))?;
        let value = option_value(family, name, value)?;
        if options.insert(name.to_owned(), value).is_some() {
            return Err(usage(anyhow!("--option {name} is given twice")));
        }
    }
    family.piece(strength, &options).map_err(|e| match e {
        // What is in a file is an input.
        GlassError::Option(o) if is_file(family, &o.path) => {
            Failure::Input(anyhow!("{}: {}", o.path, o.message))
        }
        GlassError::Option(o) if !o.path.is_empty() => {
            usage(anyhow!("--option {}: {}", o.path, o.message))
        }
        e => usage(e.into()),
    })
}

/// Series numbers look like numbers: what the family's control says decides, not the spelling.
fn option_value(family: &Family, name: &str, value: &str) -> Result<Value, Failure> {
    let control = family.controls.iter().find(|c| c.name == name);
    Ok(match control.map(|c| c.kind) {
        Some(Kind::Choice { .. }) => Value::String(value.to_owned()),
        Some(kind @ Kind::File { .. }) => {
            let text = Value::String(value.to_owned());
            match kind.path_in(&text) {
                Some(path) => Value::String(
                    option_text(path).map_err(|e| Failure::Input(anyhow!("{name}: {e}")))?,
                ),
                None => text,
            }
        }
        _ => serde_json::from_str(value).unwrap_or_else(|_| Value::String(value.to_owned())),
    })
}

fn is_file(family: &Family, name: &str) -> bool {
    let control = family.controls.iter().find(|c| c.name == name);
    control.is_some_and(|c| matches!(c.kind, Kind::File { .. }))
}

/// The light that a glass is usually asked about: cooling glass under tungsten, the rest in daylight.
fn usual_scene(piece: &Piece) -> Spectrum {
    let tau = &piece.law().tau;
    let cools = tau.at(Nanometres::clamped(450.0)) > tau.at(Nanometres::clamped(650.0)) * 1.000_001;
    illuminant::planckian(Kelvin::clamped(if cools { 3200.0 } else { 5500.0 }))
}

struct Report<'a> {
    piece: &'a Piece,
    figures: Figures,
    turn: Turn,
    spread: Spread,
    focal_mm: f64,
}

impl<'a> Report<'a> {
    fn new(piece: &'a Piece, scene: &Spectrum, focal: Extent, patch: Degrees) -> Self {
        let law = piece.law();
        Self {
            piece,
            figures: law.figures(scene),
            turn: Turn::of(scene, &law.tau),
            spread: law.stack().spread(focal, patch),
            focal_mm: focal.get(),
        }
    }

    fn json(&self) -> Value {
        let family = self.piece.family();
        let ramp = self.piece.law().ramp.as_ref();
        let mut all = figures::to_json(self.figures, &self.spread);
        let rest = [
            ("key", family.key.into()),
            ("name", self.piece.name().into()),
            (
                "strength",
                self.piece.strength().map(|s| s.to_string()).into(),
            ),
            (
                "loss_stops_nominal",
                self.piece.nominal_loss().map(Stops::get).into(),
            ),
            (
                "shift_nominal_mireds",
                self.piece.nominal_shift().map(Mireds::get).into(),
            ),
            ("shift_mireds", self.turn.shift().map(Mireds::get).into()),
            ("edge_length_mm", ramp.map(|r| r.length()).into()),
            ("peak_density", self.piece.law().peak_density().into()),
            ("source", family.source.into()),
            ("honesty", family.honesty.into()),
        ];
        all.extend(rest.map(|(k, v): (&str, Value)| (k.to_owned(), v)));
        Value::Object(all)
    }

    fn text(&self) -> String {
        let (f, family) = (self.figures, self.piece.family());
        let mut t = format!("{}: {}\n", self.piece.name(), family.purpose);
        t += &figures::light(f);
        if let Some(n) = self.piece.nominal_loss() {
            t += &format!("  loss in the trade's tables: {:.2} stop\n", n.get());
        }
        t += &self.shift();
        t += &figures::scattering(f, &self.spread, self.focal_mm);
        if let Some(r) = &self.piece.law().ramp {
            t += &format!(
                "  peak density {}, {} {} mm long on the glass; the figures are its clear end's\n",
                self.piece.law().peak_density().unwrap_or(r.peak()),
                r.shape().word(),
                r.length()
            );
        }
        t += &format!("  {}\n  Source: {}\n", family.honesty, family.source);
        t
    }

    /// What it does to the colour of the light; nothing of neutral glass.
    fn shift(&self) -> String {
        let nominal = self.piece.nominal_shift();
        let modelled = self.turn.shift().filter(|s| s.get().abs() >= 0.05);
        if nominal.is_none() && modelled.is_none() {
            return String::new();
        }
        let nominal =
            nominal.map_or_else(String::new, |s| format!("{} by its number, ", signed(s)));
        let modelled = self
            .turn
            .shift()
            .map_or_else(|| "no colour temperature left".to_owned(), signed);
        format!(
            "  shift in mireds: {nominal}{modelled} modelled; {} becomes {}\n",
            white(self.turn.bare),
            white(self.turn.through)
        )
    }
}
