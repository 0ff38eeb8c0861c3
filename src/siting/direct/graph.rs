//! Who can pass a word on to whom: a graph whose links are what works.

use std::cmp::Reverse;

use petgraph::algo::articulation_points::articulation_points;
use petgraph::algo::dijkstra;
use petgraph::graph::{NodeIndex, UnGraph};
use petgraph::unionfind::UnionFind;

use perchline_units::Db;

/// Links between numbered places; a link works both ways.
#[derive(Debug, Clone)]
pub struct LinkGraph {
    /// Weights of links are margins in dB.
    graph: UnGraph<(), f64>,
}

/// A place without which others lose each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cut {
    /// The place.
    pub place: usize,
    /// What its part falls into without it: two parts or more, largest first.
    pub parts: Vec<Vec<usize>>,
}

/// A way from one place to another with the fewest links, and of those one
/// whose weakest link is the strongest.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Every place on it, both ends included.
    pub places: Vec<usize>,
    /// Margin of its weakest link; nothing for the way from a place to itself.
    pub weakest: Option<Db>,
}

impl Chain {
    /// Number of links.
    #[must_use]
    pub fn links(&self) -> usize {
        self.places.len().saturating_sub(1)
    }
}

impl LinkGraph {
    /// A graph of `places` places, numbered from 0. Links of a place to itself
    /// and to places that are not there are left out.
    #[must_use]
    pub fn new(places: usize, links: impl IntoIterator<Item = (usize, usize, Db)>) -> Self {
        let mut graph = UnGraph::with_capacity(places, 0);
        for _ in 0..places {
            graph.add_node(());
        }
        for (a, b, margin) in links {
            if a != b && a < places && b < places {
                graph.update_edge(NodeIndex::new(a), NodeIndex::new(b), margin.value());
            }
        }
        Self { graph }
    }

    /// Parts that are linked within themselves and not with each other, largest
    /// first, then by their first place; places in order.
    #[must_use]
    pub fn parts(&self) -> Vec<Vec<usize>> {
        self.parts_without(None)
    }

    fn parts_without(&self, left_out: Option<usize>) -> Vec<Vec<usize>> {
        let mut union = UnionFind::<usize>::new(self.graph.node_count());
        for edge in self.graph.edge_indices() {
            if let Some((a, b)) = self.graph.edge_endpoints(edge)
                && ![Some(a.index()), Some(b.index())].contains(&left_out)
            {
                union.union(a.index(), b.index());
            }
        }
        let mut parts: Vec<Vec<usize>> = vec![Vec::new(); self.graph.node_count()];
        for place in (0..self.graph.node_count()).filter(|place| Some(*place) != left_out) {
            if let Some(part) = parts.get_mut(union.find(place)) {
                part.push(place);
            }
        }
        parts.retain(|part| !part.is_empty());
        parts.sort_by_key(|part| (Reverse(part.len()), part.first().copied()));
        parts
    }

    /// Places whose loss splits a part (articulation points), in order, each
    /// with what is left of it.
    #[must_use]
    pub fn cuts(&self) -> Vec<Cut> {
        let mut cuts: Vec<usize> =
            articulation_points(&self.graph).into_iter().map(NodeIndex::index).collect();
        cuts.sort_unstable();
        let whole = self.parts();
        cuts.into_iter()
            .map(|place| {
                let mut parts = self.parts_without(Some(place));
                parts.retain(|part| !whole.contains(part));
                Cut { place, parts }
            })
            .collect()
    }

    /// The number of links on the shortest way from `to` to each place; nothing
    /// where there is none.
    #[must_use]
    pub fn hops(&self, to: usize) -> Vec<Option<usize>> {
        if to >= self.graph.node_count() {
            return vec![None; self.graph.node_count()];
        }
        let found = dijkstra(&self.graph, NodeIndex::new(to), None, |_| 1_usize);
        (0..self.graph.node_count()).map(|p| found.get(&NodeIndex::new(p)).copied()).collect()
    }

    /// The best way from each place to `to`; nothing where there is none. Ways
    /// that are alike are settled by the order of the places.
    #[must_use]
    pub fn chains(&self, to: usize) -> Vec<Option<Chain>> {
        let hops = self.hops(to);
        let mut order: Vec<(usize, usize)> =
            hops.iter().enumerate().filter_map(|(place, hops)| Some(((*hops)?, place))).collect();
        order.sort_unstable();
        let mut chains: Vec<Option<Chain>> = vec![None; hops.len()];
        for (links, place) in order {
            let chain = if links == 0 {
                Some(Chain { places: vec![place], weakest: None })
            } else {
                self.best_step(place, links - 1, &hops, &chains)
            };
            if let Some(slot) = chains.get_mut(place) {
                *slot = chain;
            }
        }
        chains
    }

    /// The way on from `place` over that neighbour, `links` away from the end,
    /// which makes the weakest link the strongest.
    fn best_step(
        &self,
        place: usize,
        links: usize,
        hops: &[Option<usize>],
        chains: &[Option<Chain>],
    ) -> Option<Chain> {
        let here = NodeIndex::new(place);
        let mut next: Vec<usize> = self.graph.neighbors(here).map(NodeIndex::index).collect();
        next.sort_unstable();
        let mut best: Option<(f64, &Chain)> = None;
        for neighbour in next.into_iter().filter(|n| hops.get(*n) == Some(&Some(links))) {
            let Some(onward) = chains.get(neighbour).and_then(Option::as_ref) else { continue };
            let Some(edge) = self.graph.find_edge(here, NodeIndex::new(neighbour)) else {
                continue;
            };
            let margin = self.graph.edge_weight(edge).copied().unwrap_or(f64::NEG_INFINITY);
            let weakest = onward.weakest.map_or(margin, |w| w.value().min(margin));
            if best.is_none_or(|(known, _)| weakest > known) {
                best = Some((weakest, onward));
            }
        }
        best.map(|(weakest, onward)| Chain {
            places: std::iter::once(place).chain(onward.places.iter().copied()).collect(),
            weakest: Some(Db::new(weakest)),
        })
    }

    /// Number of links of a place.
    #[must_use]
    pub fn degree(&self, place: usize) -> usize {
        self.graph.neighbors(NodeIndex::new(place)).count()
    }

    /// The place from which the most others are reached, with the fewest links
    /// in all, then the one with the most links of its own, then the first.
    #[must_use]
    pub fn best_connected(&self) -> Option<usize> {
        self.best_connected_among(|_| true)
    }

    /// The same of those places for which `wanted` says so.
    #[must_use]
    pub fn best_connected_among(&self, wanted: impl Fn(usize) -> bool) -> Option<usize> {
        (0..self.graph.node_count()).filter(|place| wanted(*place)).min_by_key(|place| {
            let hops = self.hops(*place);
            let reached = hops.iter().flatten().count();
            let in_all: usize = hops.iter().flatten().sum();
            (Reverse(reached), in_all, Reverse(self.degree(*place)))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graph(places: usize, links: &[(usize, usize, f64)]) -> LinkGraph {
        LinkGraph::new(places, links.iter().map(|(a, b, m)| (*a, *b, Db::new(*m))))
    }

    /// Two ways of two links: the stronger weakest link is taken, and a way of
    /// three links never, however strong.
    #[test]
    fn of_the_shortest_ways_the_strongest_is_taken() {
        let square = graph(
            6,
            &[(0, 1, 20.0), (1, 3, 1.0), (0, 2, 9.0), (2, 3, 30.0), (3, 4, 40.0), (4, 0, 2.0)],
        );
        let chains = square.chains(0);
        let way = chains[3].as_ref().unwrap();
        assert_eq!(
            (way.places.as_slice(), way.weakest),
            ([3, 2, 0].as_slice(), Some(Db::new(9.0)))
        );
        assert_eq!(chains[0].as_ref().unwrap().links(), 0);
        assert_eq!(chains[5], None);
    }

    #[test]
    fn a_star_falls_apart_without_its_middle() {
        let star = graph(6, &[(2, 0, 1.0), (2, 1, 1.0), (2, 3, 1.0), (3, 4, 1.0)]);
        assert_eq!(star.parts(), [vec![0, 1, 2, 3, 4], vec![5]]);
        assert_eq!(
            star.cuts(),
            [
                Cut { place: 2, parts: vec![vec![3, 4], vec![0], vec![1]] },
                Cut { place: 3, parts: vec![vec![0, 1, 2], vec![4]] },
            ]
        );
        assert_eq!(star.best_connected(), Some(2));
    }

    #[test]
    fn links_to_nowhere_are_left_out() {
        let odd = graph(2, &[(0, 0, 1.0), (0, 7, 1.0)]);
        assert_eq!(odd.parts(), [vec![0], vec![1]]);
        assert_eq!(odd.hops(7), [None, None]);
        assert_eq!(graph(0, &[]).best_connected(), None);
    }
}
