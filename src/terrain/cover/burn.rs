//! Footprints onto cells.

use std::collections::BTreeMap;

use gdal::Dataset;
use gdal::raster::{Buffer, RasterizeOptions, rasterize};
use gdal::spatial_ref::CoordTransform;
use gdal::vector::{Geometry, ToGdal};
use ndarray::Array2;

use super::Building;
use crate::grid::spatial_ref;
use crate::{Grid, TerrainError};

/// Which building stands on each cell.
pub(super) struct Burnt {
    /// Number of the building, counted from 1, whose footprint holds the
    /// cell's centre; 0 where there is none. The higher one where two do.
    pub number: Array2<i32>,
    /// Cells that two buildings claim, by the pair's numbers, lower building first.
    pub claimed_twice: BTreeMap<(i32, i32), usize>,
}

/// Burns `buildings`, which stand in order of ascending height.
pub(super) fn burn(grid: &Grid, buildings: &[Building]) -> Result<Burnt, TerrainError> {
    let failed =
        |source| TerrainError::Gdal { doing: "burning footprints", source: Box::new(source) };
    let own = spatial_ref(grid.crs())?;
    let earth = spatial_ref("EPSG:4326")?;
    let burn = || -> gdal::errors::Result<_> {
        let transform = CoordTransform::new(&earth, &own)?;
        let shapes = buildings
            .iter()
            .map(|building| {
                let mut shape = building.outline.to_gdal()?;
                shape.transform_inplace(&transform)?;
                Ok(shape)
            })
            .collect::<gdal::errors::Result<Vec<Geometry>>>()?;
        let numbers: Vec<f64> = (1..=shapes.len()).map(|number| number as f64).collect();
        // Later shapes overwrite earlier ones: here the highest ends on top.
        let top = layer(grid, &own, &shapes, &numbers)?;
        let (mut shapes, mut numbers) = (shapes, numbers);
        shapes.reverse();
        numbers.reverse();
        Ok((top, layer(grid, &own, &shapes, &numbers)?))
    };
    let (top, bottom) = burn().map_err(failed)?;
    let mut claimed_twice = BTreeMap::new();
    for (&top, &bottom) in top.iter().zip(&bottom).filter(|(top, bottom)| top != bottom) {
        *claimed_twice.entry((bottom, top)).or_default() += 1;
    }
    let shape = (grid.rows(), grid.columns());
    let number = Array2::from_shape_vec(shape, top)
        .map_err(|_| TerrainError::Shape { found: (0, 0), grid: shape })?;
    Ok(Burnt { number, claimed_twice })
}

fn layer(
    grid: &Grid,
    crs: &gdal::spatial_ref::SpatialRef,
    shapes: &[Geometry],
    numbers: &[f64],
) -> gdal::errors::Result<Vec<i32>> {
    let size = (grid.columns(), grid.rows());
    let mut dataset: Dataset = perchline_confine::drivers::memory()?
        .create_with_band_type::<i32, _>("", size.0, size.1, 1)?;
    dataset.set_spatial_ref(crs)?;
    dataset.set_geo_transform(&grid.transform())?;
    rasterize(&mut dataset, &[1], shapes, numbers, Some(RasterizeOptions::default()))?;
    let cells: Buffer<i32> = dataset.rasterband(1)?.read_band_as()?;
    Ok(cells.into_shape_and_vec().1)
}
