//! The joints of the four jobs.

use anyhow::Result;

use super::catalogue::Team;
use super::random::Random;
use super::time::{Minute, Stamp, at};

/// What a joint is made of, which decides how it is welded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Material {
    /// GTAW root and hot pass, SMAW fill and cap.
    Carbon,
    /// SMAW throughout, cellulosic root and hot pass.
    Cellulosic,
    /// Austenitic stainless, GTAW.
    Stainless,
    /// Stainless to carbon steel, GTAW.
    Dissimilar,
    /// Duplex, GTAW.
    Duplex,
    /// Nickel-clad, GTAW.
    Nickel,
    /// Separator long seam: GTAW root and hot pass, SAW fill and cap.
    LongSeam,
    /// Separator support: GMAW.
    Support,
}

impl Material {
    pub(super) fn team(self) -> Team {
        match self {
            Material::Carbon | Material::Cellulosic => Team::Carbon,
            Material::Stainless
            | Material::Dissimilar
            | Material::Duplex
            | Material::Nickel
            | Material::LongSeam
            | Material::Support => Team::Alloy,
        }
    }

    fn wps(self) -> &'static str {
        match self {
            Material::Carbon => "WPS-CS-01",
            Material::Cellulosic => "WPS-CS-02",
            Material::Stainless | Material::Dissimilar => "WPS-SS-03",
            Material::Duplex | Material::Nickel => "WPS-DX-04",
            Material::LongSeam => "WPS-CS-01;WPS-SA-05",
            Material::Support => "WPS-GM-06",
        }
    }
}

/// How much metal a joint takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Bore {
    Small,
    Medium,
    Large,
}

impl Bore {
    /// One of three numbers, for small, medium and large.
    pub(super) fn of(self, [small, medium, large]: [u32; 3]) -> u32 {
        match self {
            Bore::Small => small,
            Bore::Medium => medium,
            Bore::Large => large,
        }
    }
}

/// How far a joint is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Progress {
    /// The first half can begin, from this minute on.
    Open(Minute),
    /// The first half is welded, the second can begin from this minute on.
    Rooted(Minute),
    /// Welded at this minute.
    Done(Minute),
    /// Nobody will weld it this month, or a story does.
    Apart,
}

/// One joint.
#[derive(Debug)]
pub(super) struct Joint {
    pub(super) name: String,
    pub(super) job: &'static str,
    pub(super) drawing: String,
    pub(super) revision: &'static str,
    pub(super) material: Material,
    pub(super) wps: &'static str,
    pub(super) level: &'static str,
    pub(super) bore: Bore,
    pub(super) progress: Progress,
    /// A lot that somebody takes and names instead of the planned one.
    pub(super) taken_instead: Option<&'static str>,
    /// Metal that went in with cycles original and tack, recorded or not.
    pub(super) deposited_mg: u64,
    pub(super) finished_at: Option<Stamp>,
    pub(super) needed_g: Option<(u64, u64)>,
    /// Whether a record of this joint has only a date, or an inspector has looked: never both.
    pub(super) dated_only: bool,
    pub(super) looked_at: bool,
}

fn separator(number: u32) -> Material {
    match number % 3 {
        0 => Material::Carbon,
        1 => Material::LongSeam,
        _ => Material::Support,
    }
}

fn drain(number: u32) -> Material {
    match number {
        401..=409 | 418 => Material::Stainless,
        410..=417 => Material::Duplex,
        419..=422 => Material::Dissimilar,
        _ => Material::Nickel,
    }
}

/// All 150 joints: 48 of wing-valve manifolds, 46 of brine lines, 30 of a separator, 26 of drains and sampling lines.
pub(super) fn all(random: &mut Random) -> Result<Vec<Joint>> {
    let mut joints = Vec::new();
    for n in 101..=148 {
        joints.push(joint(random, "M", n, "WVM-07 wing-valve manifold", Material::Carbon));
    }
    for n in 201..=246 {
        let material = if n <= 218 { Material::Carbon } else { Material::Cellulosic };
        joints.push(joint(random, "B", n, "BRL-12 brine line", material));
    }
    for n in 301..=330 {
        joints.push(joint(random, "S", n, "SEP-03 brine separator", separator(n)));
    }
    for n in 401..=426 {
        joints.push(joint(random, "D", n, "DRN-05 drains and sampling", drain(n)));
    }
    for joint in &mut joints {
        match joint.name.as_str() {
            // Not begun this month.
            "M-148" | "B-245" | "B-246" | "D-426" => joint.progress = Progress::Apart,
            // Finished, and nobody recorded a weld.
            "B-244" => {
                joint.progress = Progress::Apart;
                joint.finished_at = Some(Stamp::Local(at(28, 15, 0)));
            }
            // A stainless rod in a duplex joint.
            "D-412" => joint.taken_instead = Some("R-1052"),
            _ => {}
        }
    }
    Ok(joints)
}

fn joint(random: &mut Random, letter: &str, number: u32, job: &'static str, material: Material) -> Joint {
    let sheet = 1 + number % 100 / 6;
    let bore = random.pick(&[(4, Bore::Small), (4, Bore::Medium)], Bore::Large);
    let bore = if random.chance(18) { Bore::Large } else { bore };
    let by_lot = matches!(material.team(), Team::Carbon) && letter == "M" || letter == "D";
    Joint {
        name: format!("{letter}-{number}"),
        job,
        drawing: format!("{}-{:03}", job.split(' ').next().unwrap_or(job), number / 100 * 100 + sheet),
        revision: random.pick(&[(3, "A"), (2, "B"), (1, "C")], "A"),
        material,
        wps: material.wps(),
        level: if by_lot && random.chance(60) { "lot" } else { "class" },
        bore,
        progress: Progress::Open(0),
        taken_instead: None,
        deposited_mg: 0,
        finished_at: None,
        needed_g: None,
        dated_only: false,
        looked_at: false,
    }
}
