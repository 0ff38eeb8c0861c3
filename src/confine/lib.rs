//! What a file from a stranger can make this program do: be read, and nothing
//! else.
//!
//! * [`registered`]: only the formats that are promised can be opened at all,
//!   whatever a file refers to.
//! * [`plain_file`]: no pipe, device or folder, beside the file either.
//! * [`Reading`]: how long a file may take and how much memory.
//! * [`enter`]: a box that the kernel keeps around the process.

mod carried;
mod coordinates;
pub mod database;
pub mod drivers;
mod kernel;
mod library;
pub mod markup;
mod plain;
mod reading;

pub use carried::without_coordinate_systems;
pub use coordinates::check_coordinate_system;
pub use drivers::registered;
pub use kernel::{Kept, Room, available, enter};
pub use library::{gdal_version, known_holes};
pub use plain::{NotPlain, plain_file};
pub use reading::{Over, Overrun, Reading, allow_time, on_overrun, time};
