//! The plan file: what a person types, and what it means once checked.

mod calibration;
mod classes;
mod clutter;
mod error;
mod extent;
mod feed_line;
mod field;
mod ground_name;
mod input_file;
mod locate;
mod manual;
mod model;
mod nearest;
mod position;
mod read;
mod references;
mod resolve;
mod schema;
mod typed;
mod unit_system;

pub use calibration::{CARRIES, Calibration, CalibrationError, CarriedIn};
pub use classes::{ClassMapping, CoverClass, CoverKind, MappingError};
pub use clutter::{Clutter, ClutterClass, Houses, MOST_TOWN_LOSS, TOWN_LOSS};
pub use error::{PlanError, Problem};
pub use feed_line::{CABLES, Cable};
pub use field::{Allowed, FieldRow, Written};
pub use ground_name::{GroundKind, GroundName, GroundNames};
pub use input_file::hexadecimal;
pub use locate::Misplaced;
pub use manual::{FieldTable, field_tables, form_tables};
pub use model::*;
pub use nearest::nearest;
pub use position::{PositionError, Reading, read_position};
pub use read::{
    MAX_PLAN_BYTES, files_named, folders_named, has_event, read, read_source, read_text,
};
pub use references::{Naming, Reference, references};
pub use schema::schema;
pub use unit_system::UnitSystem;
