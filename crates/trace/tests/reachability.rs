//! From a lot to its welds and back over chains of hand-overs, beside depth-first reachability in the same story drawn
//! as a graph: lot → slip → slip of a hand-over → weld. Reference: the crate petgraph 0.8.

#![allow(clippy::indexing_slicing, reason = "a test may panic")]

mod shop;

use std::collections::{BTreeMap, BTreeSet};

use petgraph::algo::has_path_connecting;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::{Dfs, Reversed};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::Index;
use trace::where_used::{Link, links_of_lot, links_of_lots};
use trace::{Amount, Answer, Id, Interval, Named, Out, OutKind, Slip, Weld, sources};

const LOTS: [Id; 4] = [10, 11, 12, 13];

/// A hand-over of some slip there is by then, to some welder, some seconds after it was issued.
type HandOver = (Index, u128, i64, bool);
/// A weld: welder, from, length, lot named.
type Welded = (u128, i64, i64, Option<Id>);

/// What happened, told twice: as slips and weld records, and as a graph drawn while it happens.
#[derive(Debug)]
struct Story {
    slips: Vec<Slip>,
    welds: Vec<Weld>,
    graph: DiGraph<(), ()>,
    lots: BTreeMap<Id, NodeIndex>,
    weld_nodes: Vec<NodeIndex>,
}

fn tell(issues: Vec<(usize, u128, i64)>, hand_overs: Vec<HandOver>, welded: Vec<Welded>) -> Story {
    let mut graph = DiGraph::new();
    let lots: BTreeMap<Id, NodeIndex> = LOTS.into_iter().map(|lot| (lot, graph.add_node(()))).collect();
    let mut slips: Vec<Slip> = vec![];
    // Node, welder, first and last second in hand: the graph's own account of custody.
    let mut hands: Vec<(NodeIndex, u128, i64, i64)> = vec![];
    for (lot, welder, at) in issues {
        let lot = LOTS[lot];
        slips.push(shop::slip(1_000 + slips.len() as Id, lot, welder, at));
        let node = graph.add_node(());
        graph.add_edge(lots[&lot], node, ());
        hands.push((node, welder, at, i64::MAX));
    }
    for (which, welder, after, closes) in hand_overs {
        let giver = which.index(slips.len());
        let at = slips[giver].issued.from + after;
        let order = 5_000 + slips.len() as u128;
        let amount = Amount::pieces(1);
        slips[giver].outs.push(Out { at: Interval::at(at), amount, closes, kind: OutKind::HandOver, order });
        // The new slip inherits the lot from the one it was taken from.
        let new = shop::slip(1_000 + slips.len() as Id, slips[giver].lot, welder, at);
        slips.push(Slip { amount: Amount::pieces(1_000), ..new });
        let node = graph.add_node(());
        graph.add_edge(hands[giver].0, node, ());
        hands.push((node, welder, at, i64::MAX));
        if closes {
            hands[giver].3 = hands[giver].3.min(at);
        }
    }
    let mut welds = vec![];
    let mut weld_nodes = vec![];
    for (welder, from, length, named) in welded {
        let to = from + length;
        let weld = Weld {
            id: 9_000 + welds.len() as Id,
            named: Named { lot: named, slip: None },
            ..shop::weld(welder, from, to)
        };
        welds.push(weld);
        let node = graph.add_node(());
        for (slip, holder, start, end) in &hands {
            if *holder == welder && *start <= to && from <= *end {
                graph.add_edge(*slip, node, ());
            }
        }
        weld_nodes.push(node);
    }
    Story { slips, welds, graph, lots, weld_nodes }
}

fn story() -> impl Strategy<Value = Story> {
    (
        vec((0..LOTS.len(), 1..5_u128, 0..10_i64), 1..6),
        vec((any::<Index>(), 1..5_u128, 0..6_i64, any::<bool>()), 0..9),
        vec(
            (
                1..5_u128,
                0..25_i64,
                0..4_i64,
                proptest::option::weighted(0.3, proptest::sample::select(&LOTS[..])),
            ),
            1..9,
        ),
    )
        .prop_map(|(issues, hand_overs, welded)| tell(issues, hand_overs, welded))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn both_directions_agree_with_the_graph(mut story in story()) {
        // No slip of this story is used up by its amounts.
        story.slips.iter_mut().for_each(|slip| slip.amount = Amount::pieces(1_000));
        let Story { slips, welds, graph, lots, weld_nodes } = story;
        let answers: Vec<(Weld, Answer)> =
            welds.into_iter().map(|weld| (weld.clone(), sources(&weld, &slips, &[], &[]))).collect();
        let lot_of: BTreeMap<Id, Id> = slips.iter().map(|slip| (slip.id, slip.lot)).collect();

        let mut forward = BTreeSet::new();
        for (lot, node) in &lots {
            let links = links_of_lot(*lot, &answers, &slips);
            for (index, weld_node) in weld_nodes.iter().enumerate() {
                let (weld, answer) = &answers[index];
                let reached = has_path_connecting(&graph, *node, *weld_node, None);
                let link = links.iter().find(|(weld, _, _)| *weld == index);
                let held = link.is_some_and(|(_, link, _)| *link != Link::Named);
                prop_assert_eq!(held, reached, "lot {} and weld {}", lot, weld.id);
                prop_assert_eq!(
                    link.is_some(), reached || weld.named.lot == Some(*lot),
                    "a named lot is listed even where it was not held"
                );
                if let Some((_, _, of)) = link {
                    let source_lots: BTreeSet<_> = answer.sources.iter().map(|slip| lot_of[slip]).collect();
                    prop_assert_eq!(*of, source_lots.len());
                }
                if reached {
                    forward.insert((*lot, index));
                }
            }
        }

        let mut backward = BTreeSet::new();
        for (index, (_, answer)) in answers.iter().enumerate() {
            let told: BTreeSet<Id> = shop::candidates(answer).iter().map(|slip| lot_of[slip]).collect();
            let mut drawn = BTreeSet::new();
            let upstream = Reversed(&graph);
            let mut search = Dfs::new(upstream, weld_nodes[index]);
            while let Some(node) = search.next(upstream) {
                drawn.extend(lots.iter().filter(|(_, lot_node)| **lot_node == node).map(|(lot, _)| *lot));
            }
            prop_assert_eq!(&told, &drawn, "weld {}", index);
            backward.extend(drawn.into_iter().map(|lot| (lot, index)));
        }
        prop_assert_eq!(forward, backward);
    }

    /// Asking for a heat or certificate of several lots lists the welds of each, once.
    #[test]
    fn several_lots_list_the_welds_of_each(story in story()) {
        let answers: Vec<(Weld, Answer)> = story
            .welds
            .iter()
            .map(|weld| (weld.clone(), sources(weld, &story.slips, &[], &[])))
            .collect();
        let asked = BTreeSet::from([LOTS[0], LOTS[2]]);
        let mut strongest: BTreeMap<usize, (Link, usize)> = BTreeMap::new();
        for lot in &asked {
            for (weld, link, of) in links_of_lot(*lot, &answers, &story.slips) {
                let best = strongest.entry(weld).or_insert((link, of));
                *best = (*best).min((link, of));
            }
        }
        let expected: Vec<_> = strongest.into_iter().map(|(weld, (link, of))| (weld, link, of)).collect();
        prop_assert_eq!(links_of_lots(&asked, &answers, &story.slips), expected);
    }
}
