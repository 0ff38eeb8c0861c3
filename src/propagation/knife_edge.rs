//! TODO
use crate::units::Db;
/// J(nu)
pub fn loss(_nu: f64) -> Db {
    todo!()
}
/// exact
pub fn exact_loss(_nu: f64) -> Db {
    todo!()
}
