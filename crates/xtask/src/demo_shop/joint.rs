//! The joints of the jobs: four in April, six more for May and June.

use super::catalogue::Team;
use super::random::Random;
use super::time::{MAY, Minute, Stamp, at};

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
    /// Nobody will weld it, or a story does.
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
    /// The job begins at this minute.
    pub(super) begin: Minute,
    /// Metal that went in with cycles original and tack, recorded or not.
    pub(super) deposited_mg: u64,
    pub(super) finished_at: Option<Stamp>,
    pub(super) needed_g: Option<(u64, u64)>,
    /// Its need is written down as so many halves of what it is.
    pub(super) drawn_halves: u64,
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
        401..=409 | 418 | 501..=540 => Material::Stainless,
        410..=417 | 541..=575 => Material::Duplex,
        419..=422 | 576..=590 => Material::Dissimilar,
        _ => Material::Nickel,
    }
}

fn brine(number: u32) -> Material {
    match number {
        201..=218 | 501..=600 => Material::Carbon,
        _ => Material::Cellulosic,
    }
}

fn carbon(_: u32) -> Material {
    Material::Carbon
}

/// Letter, first and last number, job, materials.
type Series = (&'static str, u32, u32, &'static str, fn(u32) -> Material);

/// The 150 joints of the jobs of April.
const APRIL: [Series; 4] = [
    ("M", 101, 148, "WVM-07 wing-valve manifold", carbon),
    ("B", 201, 246, "BRL-12 brine line", brine),
    ("S", 301, 330, "SEP-03 brine separator", separator),
    ("D", 401, 426, "DRN-05 drains and sampling", drain),
];

/// The 750 joints of the jobs that begin in May.
const MAY_AND_JUNE: [Series; 6] = [
    ("M", 501, 640, "WVM-08 wing-valve manifold", carbon),
    ("B", 501, 720, "BRL-13 brine line", brine),
    ("H", 101, 230, "HDR-02 steam header", carbon),
    ("S", 401, 500, "SEP-04 brine separator", separator),
    ("D", 501, 610, "DRN-06 drains and sampling", drain),
    ("F", 101, 150, "FLS-01 flash vessel", separator),
];

/// All 900 joints.
pub(super) fn all(random: &mut Random) -> Vec<Joint> {
    let mut joints = Vec::new();
    for (begin, series) in [(0, &APRIL[..]), (at(MAY + 1, 0, 0), &MAY_AND_JUNE[..])] {
        for (letter, first, last, job, material) in series {
            for n in *first..=*last {
                joints.push(joint(random, letter, n, job, material(n), begin));
            }
        }
    }
    for joint in &mut joints {
        match joint.name.as_str() {
            // Not begun: the walk-through hands out the first rods for it.
            "M-148" => joint.progress = Progress::Apart,
            // Begun in May.
            "B-245" | "B-246" | "D-426" => joint.progress = Progress::Open(at(MAY + 1, 0, 0)),
            _ => {}
        }
    }
    joints
}

fn joint(
    random: &mut Random,
    letter: &str,
    number: u32,
    job: &'static str,
    material: Material,
    begin: Minute,
) -> Joint {
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
        progress: Progress::Open(begin),
        begin,
        deposited_mg: 0,
        finished_at: None,
        needed_g: None,
        drawn_halves: 2,
        dated_only: false,
        looked_at: false,
    }
}
