//! Cells of a map that lie among other houses than the rest of the plan.

use perchline_link::{LinkModel, Outcome};
use perchline_terrain::{Grid, PlaceError};
use perchline_units::Db;

use super::Coverage;

/// Takes a map on which every cell has the houses that the plan states for all of it
/// to those that its areas state of their own: margins differ by what P.2108 does.
///
/// # Errors
/// [`PlaceError`] when the grid cannot be projected.
pub(super) fn among_houses(
    mut coverage: Coverage,
    grid: &Grid,
    model: &LinkModel,
) -> Result<Coverage, PlaceError> {
    if !model.has_quarters() {
        return Ok(coverage);
    }
    let projector = grid.projector()?;
    for row in 0..grid.rows() {
        let centres: Vec<_> =
            (0..grid.columns()).map(|column| (column as f64 + 0.5, row as f64 + 0.5)).collect();
        for (column, place) in projector.to_positions(&centres)?.into_iter().enumerate() {
            let here = model.at(place);
            if std::ptr::eq(&raw const *here, model) {
                continue;
            }
            coverage.shift((row, column), &here, here.margins_over(model));
        }
    }
    Ok(coverage)
}

impl Coverage {
    /// Changes the margins of (talk-in, talk-out) of a known cell and what follows of
    /// them by the spread of `model`.
    fn shift(&mut self, cell: (usize, usize), model: &LinkModel, by: [Db; 2]) {
        let margins = [&mut self.talk_in_margin, &mut self.talk_out_margin];
        let mut over = [Db::new(f64::NAN); 2];
        for ((layer, by), over) in margins.into_iter().zip(by).zip(&mut over) {
            let Some(margin) = layer.get_mut(cell).filter(|margin| !margin.is_nan()) else {
                return;
            };
            *margin += by.value() as f32;
            *over = Db::new(f64::from(*margin)) + model.allowance();
        }
        let [talk_in, talk_out] = over;
        let probability = model.spread().both_ways(talk_in, talk_out);
        if let Some(known) = self.probability.get_mut(cell) {
            *known = probability as f32;
        }
        if let Some(known) = self.outcome.get_mut(cell) {
            let better = talk_in.max(talk_out);
            *known = Outcome::of(probability, better, model.reliability());
        }
    }
}
