//! Parts, cuts and chains against networkx, on the random graphs of
//! tests/reference/graphs.csv.

use std::path::Path;

use perchline::siting::direct::LinkGraph;
use perchline::units::Db;

struct Reference {
    graph: LinkGraph,
    links: Vec<(usize, usize)>,
    parts: Vec<Vec<usize>>,
    articulation: Vec<usize>,
    hops: Vec<Option<usize>>,
}

fn numbers(cell: &str) -> Vec<usize> {
    cell.split_whitespace().map(|n| n.parse().unwrap()).collect()
}

/// Made by tests/reference/make_graphs.py with networkx 3.4.2:
///   python3 -m venv /tmp/nx && /tmp/nx/bin/pip install networkx==3.4.2
///   /tmp/nx/bin/python tests/reference/make_graphs.py > tests/reference/graphs.csv
fn references() -> Vec<Reference> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/graphs.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let references: Vec<_> = reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            let links: Vec<(usize, usize)> = record[1]
                .split_whitespace()
                .map(|link| link.split_once('-').unwrap())
                .map(|(a, b)| (a.parse().unwrap(), b.parse().unwrap()))
                .collect();
            // Margins are no part of the reference: any will do.
            let weighted =
                links.iter().map(|(a, b)| (*a, *b, Db::new((a * 7 + b * 3) as f64 % 11.0)));
            Reference {
                graph: LinkGraph::new(record[0].parse().unwrap(), weighted),
                parts: record[2].split('|').map(numbers).collect(),
                articulation: numbers(&record[3]),
                hops: record[4].split_whitespace().map(|n| n.parse().ok()).collect(),
                links,
            }
        })
        .collect();
    assert_eq!(references.len(), 240);
    references
}

#[test]
fn parts_cuts_and_hops_are_networkx_s() {
    let references = references();
    let mut agree = 0;
    let (mut split, mut unreached) = (0, 0);
    for reference in &references {
        let cuts: Vec<usize> = reference.graph.cuts().iter().map(|cut| cut.place).collect();
        let same = reference.graph.parts() == reference.parts
            && cuts == reference.articulation
            && reference.graph.hops(0) == reference.hops;
        agree += usize::from(same);
        split += cuts.len();
        unreached += reference.hops.iter().filter(|hops| hops.is_none()).count();
    }
    // The table holds what is asked about.
    assert!(split > 200 && unreached > 200, "{split} cuts, {unreached} unreached");
    let percent = 100.0 * agree as f64 / references.len() as f64;
    println!("figure graph_agreement_percent {percent:.1} %");
    assert_eq!(agree, references.len());
}

/// What is left of a part without its cut: together the part less the cut, and
/// no link between two of the pieces.
#[test]
fn a_cut_leaves_parts_that_no_link_joins() {
    for Reference { graph, links, parts, .. } in &references() {
        for cut in graph.cuts() {
            assert!(cut.parts.len() >= 2);
            let mut left: Vec<usize> = cut.parts.iter().flatten().copied().collect();
            left.push(cut.place);
            left.sort_unstable();
            assert!(parts.contains(&left), "{cut:?}");
            let piece = |place: usize| cut.parts.iter().position(|part| part.contains(&place));
            for (a, b) in links.iter().filter(|(a, b)| left.contains(a) && left.contains(b)) {
                if let (Some(one), Some(other)) = (piece(*a), piece(*b)) {
                    assert_eq!(one, other, "{a}-{b} joins parts of {cut:?}");
                }
            }
        }
    }
}

/// A chain has the fewest links, every step of it is one, and no chain as short
/// has a stronger weakest link (all of them, by brute force).
#[test]
fn chains_are_the_shortest_and_of_those_the_strongest() {
    let mut compared = 0;
    for Reference { graph, links, hops, .. } in &references() {
        let margin = |a: usize, b: usize| {
            let known = links.iter().any(|link| *link == (a, b) || *link == (b, a));
            let (a, b) = (a.min(b), a.max(b));
            known.then_some((a * 7 + b * 3) as f64 % 11.0)
        };
        // The strongest weakest link over every way of exactly that many links.
        fn widest(
            place: usize,
            left: usize,
            margin: &dyn Fn(usize, usize) -> Option<f64>,
            hops: &[Option<usize>],
        ) -> f64 {
            if left == 0 {
                return if place == 0 { f64::INFINITY } else { f64::NEG_INFINITY };
            }
            (0..hops.len())
                .filter(|next| hops[*next] == Some(left - 1))
                .filter_map(|next| {
                    Some(margin(place, next)?.min(widest(next, left - 1, margin, hops)))
                })
                .fold(f64::NEG_INFINITY, f64::max)
        }
        for (place, chain) in graph.chains(0).iter().enumerate() {
            assert_eq!(chain.as_ref().map(|c| c.links()), hops[place]);
            let Some(chain) = chain else { continue };
            assert_eq!((chain.places.first(), chain.places.last()), (Some(&place), Some(&0)));
            let steps: Vec<f64> =
                chain.places.windows(2).map(|step| margin(step[0], step[1]).unwrap()).collect();
            let weakest = steps.iter().copied().reduce(f64::min);
            assert_eq!(chain.weakest.map(Db::value), weakest);
            if let Some(weakest) = weakest {
                assert_eq!(weakest, widest(place, chain.links(), &margin, hops));
                compared += 1;
            }
        }
    }
    assert!(compared > 1000, "{compared}");
}
