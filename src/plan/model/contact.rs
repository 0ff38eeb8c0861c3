//! People to call, once checked.

/// Somebody to call; there is a phone, a channel or both.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Name of the person or desk.
    pub name: String,
    /// What to call them for.
    pub role: Option<String>,
    /// Telephone number as typed.
    pub phone: Option<String>,
    /// Index into [`super::Plan::channels`] of the channel on which they listen.
    pub channel: Option<usize>,
    /// Anything else.
    pub note: Option<String>,
}
