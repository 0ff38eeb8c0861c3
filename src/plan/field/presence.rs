//! Whether a field must be typed, and what holds where it is not.

use super::{Defaulted, FieldCheck, Kind, Plain};
use serde_json::Value;

/// Whether a field of this kind must be typed, and what reading it gives.
pub(crate) trait Presence<K: Kind> {
    /// What the file holds.
    type Typed;
    /// What reading gives.
    type Read;
    /// Whether the table is refused without it.
    const REQUIRED: bool;

    /// Reads it; problems are told.
    fn read(&self, kind: &K, check: &mut FieldCheck<'_, '_>, typed: Self::Typed) -> Self::Read;

    /// The default as it would be typed.
    fn written(&self, _: &K) -> Option<Value> {
        None
    }

    /// What holds where it is left out, in words.
    fn silent(&self) -> &'static str {
        ""
    }
}

/// It must be typed. Reading gives nothing together with a problem.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Must;

impl<K: Plain> Presence<K> for Must {
    type Typed = K::Typed;
    type Read = Option<K::Value>;
    const REQUIRED: bool = true;

    fn read(&self, kind: &K, check: &mut FieldCheck<'_, '_>, typed: K::Typed) -> Self::Read {
        kind.read(check, typed)
    }
}

/// It has this default. Reading gives nothing together with a problem.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Or<G>(pub(super) G);

impl<K: Defaulted> Presence<K> for Or<K::Given> {
    type Typed = Option<K::Typed>;
    type Read = Option<K::Value>;
    const REQUIRED: bool = false;

    fn read(
        &self,
        kind: &K,
        check: &mut FieldCheck<'_, '_>,
        typed: Option<K::Typed>,
    ) -> Self::Read {
        match typed {
            Some(typed) => kind.read(check, typed),
            None => Some(kind.meant(self.0)),
        }
    }

    fn written(&self, kind: &K) -> Option<Value> {
        Some(kind.written(self.0))
    }
}

/// It may be left out. Reading gives nothing together with a problem, else what
/// was typed, if something was.
#[derive(Debug, Clone, Copy)]
pub(crate) struct May(pub(super) &'static str);

impl<K: Plain> Presence<K> for May {
    type Typed = Option<K::Typed>;
    type Read = Option<Option<K::Value>>;
    const REQUIRED: bool = false;

    fn read(
        &self,
        kind: &K,
        check: &mut FieldCheck<'_, '_>,
        typed: Option<K::Typed>,
    ) -> Self::Read {
        match typed {
            Some(typed) => kind.read(check, typed).map(Some),
            None => Some(None),
        }
    }

    fn silent(&self) -> &'static str {
        self.0
    }
}

/// It is handed on as typed, for its meaning depends on more than itself.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Unread<P>(pub(super) P);

impl<K: Kind> Presence<K> for Unread<Must> {
    type Typed = K::Typed;
    type Read = K::Typed;
    const REQUIRED: bool = true;

    fn read(&self, _: &K, _: &mut FieldCheck<'_, '_>, typed: K::Typed) -> K::Typed {
        typed
    }
}

impl<K: Kind> Presence<K> for Unread<May> {
    type Typed = Option<K::Typed>;
    type Read = Option<K::Typed>;
    const REQUIRED: bool = false;

    fn read(&self, _: &K, _: &mut FieldCheck<'_, '_>, typed: Self::Typed) -> Self::Read {
        typed
    }

    fn silent(&self) -> &'static str {
        self.0.0
    }
}
