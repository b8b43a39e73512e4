//! How uncertain a result is, from how uncertain its inputs are: first-order propagation over independent inputs.
//!
//! GUM (JCGM 100:2008, ISO/IEC Guide 98-3) clauses 4.3.7, 5.1.2 and 5.1.3 note 2. The inputs must be what was measured, not
//! results that have inputs in common: those would count one spread twice.

#![allow(
    clippy::float_arithmetic,
    reason = "an estimate; what is recorded of it is rounded once, to whole milligrams"
)]

use std::collections::BTreeMap;

/// Whether the error of an input is the same one in several results.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sharing {
    /// The same error in each: the diameter of a lot, the habit of a welder. Over n joints it grows with n.
    Shared,
    /// Another error in each, such as the gap. Over n joints it grows with √n.
    PerJoint,
}

/// One input: its best value and how uncertain that is.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// What it is called; inputs of the same name that are shared have one error between them.
    pub name: String,
    /// The best estimate.
    pub value: f64,
    /// The standard uncertainty, in the same unit; zero or more.
    pub u: f64,
    /// Whether its error is shared.
    pub sharing: Sharing,
}

/// What one input adds to a result's uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// The input.
    pub name: String,
    /// Whether its error is shared.
    pub sharing: Sharing,
    /// By how much the result changes when the input is one standard uncertainty larger; signed.
    pub amount: f64,
}

/// A result with its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Propagated {
    /// The result at the best values.
    pub value: f64,
    /// Its combined standard uncertainty.
    pub u: f64,
    /// What each input adds, in their order; those without any uncertainty are left out.
    pub contributions: Vec<Contribution>,
}

/// The standard uncertainty of a value known to lie within ± `half_width`, anywhere in it equally likely: a/√3 (GUM 4.3.7).
#[must_use]
pub fn rectangular(half_width: f64) -> f64 {
    half_width / libm::sqrt(3.0)
}

/// The result of `model` at the best values, with its uncertainty.
///
/// What an input adds is half of the difference between the results with it one standard uncertainty above and below (GUM
/// 5.1.3 note 2). Where one of the two does not exist (a root face below zero), it is the whole difference to the other.
///
/// # Errors
/// What `model` says of the best values, or of an input that can be changed neither way.
pub fn propagate<E>(inputs: &[Input], model: impl Fn(&[f64]) -> Result<f64, E>) -> Result<Propagated, E> {
    let best: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let value = model(&best)?;
    let mut contributions = Vec::new();
    for (index, input) in inputs.iter().enumerate() {
        if input.u == 0.0 {
            continue;
        }
        let with = |changed: f64| {
            let mut values = best.clone();
            if let Some(value) = values.get_mut(index) {
                *value = changed;
            }
            model(&values)
        };
        let amount = match (with(input.value + input.u), with(input.value - input.u)) {
            (Ok(above), Ok(below)) => (above - below) / 2.0,
            (Ok(above), Err(_)) => above - value,
            (Err(_), Ok(below)) => value - below,
            (Err(error), Err(_)) => return Err(error),
        };
        contributions.push(Contribution { name: input.name.clone(), sharing: input.sharing, amount });
    }
    let u = root_sum_square(contributions.iter().map(|contribution| contribution.amount));
    Ok(Propagated { value, u, contributions })
}

/// The sum of several results and its uncertainty: shared contributions of one name are added with their signs, then all
/// are combined as the root of the sum of squares (GUM 5.1.2 and 5.2.2 with correlation 1 for what is shared).
#[must_use]
pub fn sum<'a>(results: impl IntoIterator<Item = &'a Propagated>) -> (f64, f64) {
    let mut value = 0.0;
    let mut shared: BTreeMap<&str, f64> = BTreeMap::new();
    let mut per_joint = Vec::new();
    for result in results {
        value += result.value;
        for contribution in &result.contributions {
            match contribution.sharing {
                Sharing::Shared => *shared.entry(&contribution.name).or_insert(0.0) += contribution.amount,
                Sharing::PerJoint => per_joint.push(contribution.amount),
            }
        }
    }
    (value, root_sum_square(shared.into_values().chain(per_joint)))
}

/// √Σ x².
pub(crate) fn root_sum_square(values: impl IntoIterator<Item = f64>) -> f64 {
    libm::sqrt(values.into_iter().map(|value| value * value).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn input(name: &str, value: f64, half_width: f64, sharing: Sharing) -> Input {
        Input { name: name.to_owned(), value, u: rectangular(half_width), sharing }
    }

    fn rod_mass(values: &[f64]) -> Result<f64, ()> {
        let [diameter, length, density] = values else { return Err(()) };
        Ok(std::f64::consts::PI / 4.0 * diameter * diameter * length * density / 1000.0)
    }

    /// Arithmetic case RM-07: GUM 4.3.7 and 5.1.6, evaluated apart.
    #[test]
    fn a_rod_by_its_diameter_alone() {
        let inputs = [
            input("diameter", 2.381, 0.05, Sharing::Shared),
            input("length", 914.4, 0.0, Sharing::Shared),
            input("density", 7.93, 0.0, Sharing::Shared),
        ];
        let mass = propagate(&inputs, rod_mass).unwrap();
        assert!((mass.u / mass.value - 0.0242).abs() <= 0.0001, "{}", mass.u / mass.value);
        assert_eq!(mass.contributions.len(), 1);
    }

    /// Arithmetic cases MB-01, MB-02, MB-16: evaluated apart, confirmed with a propagation library.
    #[test]
    fn rods_of_one_lot_share_their_error() {
        let inputs = [
            input("diameter", 2.381, 0.05, Sharing::Shared),
            input("length", 914.4, 6.35, Sharing::Shared),
            input("density", 7.93, 0.05, Sharing::Shared),
        ];
        let mass = propagate(&inputs, rod_mass).unwrap();
        assert!((mass.value - 32.29).abs() <= 0.005);
        assert!((mass.u - 0.802).abs() <= 0.001);
        let (sixty, u) = sum(std::iter::repeat_n(&mass, 60));
        assert!((sixty - 60.0 * mass.value).abs() < 1e-9);
        assert!((u - 48.1).abs() <= 0.05, "{u}");
    }

    #[test]
    fn per_joint_errors_grow_with_the_root() {
        let gap =
            propagate(&[input("gap", 3.0, 0.8, Sharing::PerJoint)], |v| Ok::<_, ()>(v.iter().sum())).unwrap();
        let (_, u) = sum(std::iter::repeat_n(&gap, 16));
        assert!((u - 4.0 * gap.u).abs() < 1e-12);
    }

    #[test]
    fn shared_errors_can_cancel() {
        let one = [input("density", 7.85, 0.05, Sharing::Shared)];
        let up = propagate(&one, |v| Ok::<_, ()>(v.iter().sum::<f64>())).unwrap();
        let down = propagate(&one, |v| Ok::<_, ()>(-v.iter().sum::<f64>())).unwrap();
        assert_eq!(sum([&up, &down]), (0.0, 0.0));
    }

    #[test]
    fn at_the_edge_of_what_exists_one_side_is_enough() {
        let root = |v: &[f64]| v.iter().map(|x| if *x < 0.0 { Err("below zero") } else { Ok(2.0 * x) }).sum();
        let at_zero = [input("face", 0.0, 0.3, Sharing::Shared)];
        let result: Propagated = propagate(&at_zero, root).unwrap();
        assert!((result.u - 2.0 * rectangular(0.3)).abs() < 1e-12);
        assert_eq!(propagate(&[input("face", -1.0, 0.3, Sharing::Shared)], root), Err("below zero"));
    }
}
