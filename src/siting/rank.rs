//! Ranking.
