//! Closed systems: slips and joints that belong to each other alone, with everything known of them.

use super::joint_need::{Link, is_finished, links, needed};
use super::slip_mass::SlipMasses;
use super::{Group, check, links_of_slip};
use crate::ask::reading::Reading;
use crate::error::Result;
use crate::log::Place;
use record::id::{JointId, SlipId};
use std::collections::{BTreeMap, BTreeSet};
use trace::mass_check::Verdict;

/// A slip or a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Node {
    Slip(SlipId),
    Joint(JointId),
}

/// The closed systems of the book, given every weld record at each of its joints.
pub(crate) fn all(reading: &Reading<'_>, book: Vec<Link>) -> Result<Vec<Group>> {
    let mut of_record: BTreeMap<Place, BTreeSet<Node>> = BTreeMap::new();
    for link in &book {
        let nodes = of_record.entry(link.place).or_default();
        nodes.insert(Node::Joint(link.joint));
        nodes.extend(link.slips.iter().map(|slip| Node::Slip(*slip)));
    }
    // Each node with one that it hangs together with; itself at the root.
    let mut above: BTreeMap<Node, Node> = BTreeMap::new();
    for nodes in of_record.into_values() {
        let mut nodes = nodes.into_iter();
        let Some(first) = nodes.next() else { continue };
        let root = find(&mut above, first);
        for node in nodes {
            let other = find(&mut above, node);
            above.insert(other, root);
        }
    }
    let mut systems: BTreeMap<Node, Group> = BTreeMap::new();
    for link in book {
        let root = find(&mut above, Node::Joint(link.joint));
        let system = systems.entry(root).or_default();
        system.slips.extend(&link.slips);
        system.joints.entry(link.joint).or_default().push(link);
    }
    let mut closed = Vec::new();
    for system in systems.into_values() {
        if is_closed(reading, &system)? {
            closed.push(system);
        }
    }
    Ok(closed)
}

/// The root of a node, which is put right below it.
fn find(above: &mut BTreeMap<Node, Node>, node: Node) -> Node {
    let mut root = node;
    while let Some(next) = above.get(&root).filter(|next| **next != root) {
        root = *next;
    }
    above.insert(root, root);
    above.insert(node, root);
    root
}

fn is_closed(reading: &Reading<'_>, system: &Group) -> Result<bool> {
    for slip in &system.slips {
        if !slip_is_closed(reading, *slip)? {
            return Ok(false);
        }
    }
    for (joint, links) in &system.joints {
        if !joint_is_closed(reading, *joint, links)? {
            return Ok(false);
        }
    }
    Ok(!system.slips.is_empty())
}

fn slip_is_closed(reading: &Reading<'_>, slip: SlipId) -> Result<bool> {
    let view = reading.slip_and_lot(slip)?;
    let masses = SlipMasses::of(reading, &view)?;
    Ok(masses.closed && !masses.flux && !view.slip.void && masses.issued.is_ok())
}

/// Whether a joint is finished, what it needs is known, and so is where its metal is from.
fn joint_is_closed(reading: &Reading<'_>, joint: JointId, links: &[Link]) -> Result<bool> {
    let joint = reading.joint(joint)?;
    Ok(is_finished(&joint, links) && needed(&joint).is_ok() && !links.iter().any(|link| link.doubtful))
}

/// The closed systems that some slips and weld records are in. Left as soon as a system turns out not to be closed, so
/// that one joint costs no walk through the whole book.
pub(crate) fn around(
    reading: &Reading<'_>,
    slips: impl IntoIterator<Item = SlipId>,
    records: impl IntoIterator<Item = Place>,
) -> Result<Vec<Group>> {
    let mut begin: BTreeSet<Node> = slips.into_iter().map(Node::Slip).collect();
    for place in records {
        begin.extend(reading.record(place)?.joints().into_iter().map(Node::Joint));
    }
    let mut seen = BTreeSet::new();
    let mut open = BTreeSet::new();
    let mut found = Vec::new();
    for node in begin {
        if !seen.contains(&node)
            && let Some(system) = grow(reading, node, &mut seen, &mut open)?
        {
            found.push(system);
        }
    }
    Ok(found)
}

/// The closed system around a node; none where it is not closed. `seen` are the nodes looked at, `open` those of systems
/// that are not closed.
fn grow(
    reading: &Reading<'_>,
    start: Node,
    seen: &mut BTreeSet<Node>,
    open: &mut BTreeSet<Node>,
) -> Result<Option<Group>> {
    let mut system = Group::default();
    let mut mine = BTreeSet::from([start]);
    let mut next = vec![start];
    let mut closed = true;
    while let Some(node) = next.pop().filter(|_| closed) {
        let found = match node {
            Node::Slip(slip) => {
                closed = slip_is_closed(reading, slip)?;
                system.slips.insert(slip);
                if closed { links_of_slip(reading, slip)? } else { Vec::new() }
            }
            Node::Joint(joint) => {
                let links = links(reading, joint)?;
                closed = joint_is_closed(reading, joint, &links)?;
                system.joints.insert(joint, links.clone());
                links
            }
        };
        for link in found {
            let joints = reading.record(link.place)?.joints().into_iter().map(Node::Joint);
            for node in joints.chain(link.slips.iter().map(|slip| Node::Slip(*slip))) {
                closed &= !open.contains(&node);
                if mine.insert(node) {
                    next.push(node);
                }
            }
        }
    }
    if !closed {
        open.extend(&mine);
    }
    seen.extend(mine);
    Ok((closed && !system.slips.is_empty()).then_some(system))
}

/// How many systems could be checked in the book at the most: as many as there are joints of which the need is known.
///
/// The number of those that are closed today would be nearer, but takes a look at every weld record, and an answer about
/// one joint must flag what the list of the whole book flags.
pub(crate) fn most(reading: &Reading<'_>) -> Result<u32> {
    let joints =
        reading.standing_things("SELECT joint, place FROM fact_joint WHERE needed_mg IS NOT NULL", [])?.len();
    Ok(u32::try_from(joints).unwrap_or(u32::MAX))
}

/// The check of a closed system among all of the book, if it flags.
pub(crate) fn flagged(reading: &Reading<'_>, system: &Group) -> Result<Option<super::MassCheck>> {
    let flags = |check: &super::MassCheck| match check.verdict() {
        Verdict::Over(_) | Verdict::Short(_) => true,
        Verdict::Within | Verdict::NotChecked(_) => false,
    };
    // Most are within even by the least threshold, and then nobody needs to know how many there are.
    if !flags(&check(reading, system, 1)?) {
        return Ok(None);
    }
    Ok(Some(check(reading, system, most(reading)?)?).filter(flags))
}
