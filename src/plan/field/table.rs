//! The types of a table out of the declarations of its fields.

use crate::resolve::{Check, Entry};

/// A table that means a part of the plan by itself.
pub(crate) trait Part {
    /// That part.
    type Part;

    /// Reads it; nothing together with a problem.
    fn part(self, check: &mut Check<'_>, entry: &Entry, within: &str) -> Option<Self::Part>;
}

/// Makes the module of a table: `Text` is what the file holds, `Read` what its
/// fields mean, `FIELDS` the declarations.
///
/// `either` lists sets of fields of which a plan has exactly one. A field whose
/// name in the file is another one has it after `=`.
///
/// A table that is declared `as` a type makes that type as well: the part of the
/// plan that it means, see [`part`].
macro_rules! table {
    (
        $(#[doc = $about:literal])+
        #[derive($($derive:ident),+)]
        $table:ident as $model:ident $(: $default:ident)? $(either $either:tt)? {
            $($fields:tt)+
        }
    ) => {
        $crate::field::table! {
            $(#[doc = $about])+
            $table $(either $either)? { $($fields)+ } [
                $crate::field::part! {
                    { $(#[doc = $about])+ #[derive($($derive),+)] $model { $($default)? } }
                    {} {} {} $($fields)+
                }
            ]
        }
        pub use $table::$model;
    };
    (
        $(#[doc = $about:literal])+
        $table:ident $(either [$([$($one:literal),+]),+])? {
            $(
                $(#[doc = $what:literal])* $field:ident $(= $name:literal)?: $type:ty
                $(as $value:ty $(, $told:literal)?)? $(=> $resolved:ty $(, $given:literal)?)?
                    = $declaration:expr,
            )+
        } $([$($part:tt)+])?
    ) => {
        $(#[doc = $about])+
        pub(crate) mod $table {
            use super::*;
            use $crate::field::{Declared, FieldRow, Table};
            use $crate::resolve::{Check, Entry};

            /// What the file holds.
            #[derive(Debug, Clone, serde::Deserialize)]
            #[serde(deny_unknown_fields)]
            pub(crate) struct Text {
                $(
                    $(#[serde(rename = $name)])?
                    pub(crate) $field: <$type as Declared>::Typed,
                )+
            }

            /// What its fields mean.
            #[derive(Debug)]
            pub(crate) struct Read {
                $(pub(crate) $field: <$type as Declared>::Read,)+
            }

            /// The fields as they are declared.
            pub(crate) struct Fields {
                $(pub(crate) $field: $type,)+
            }

            /// The declarations.
            pub(crate) const FIELDS: Fields = Fields {
                $(
                    $field: $declaration.called(stringify!($field), concat!("", $($what),*))
                        $(.named($name))?,
                )+
            };

            impl Text {
                /// Reads every field; problems name it with `within` in front.
                pub(crate) fn read(
                    self,
                    check: &mut Check<'_>,
                    entry: &Entry,
                    within: &str,
                ) -> Read {
                    Read { $($field: FIELDS.$field.read(check, entry, within, self.$field),)+ }
                }
            }

            impl Table for Text {
                fn rows(within: &str) -> Vec<FieldRow> {
                    let rows = [$(FIELDS.$field.rows(within),)+];
                    rows.into_iter().flatten().collect()
                }
            }

            impl schemars::JsonSchema for Text {
                fn schema_name() -> std::borrow::Cow<'static, str> {
                    stringify!($table).into()
                }

                fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
                    let (mut properties, mut required) = (serde_json::Map::new(), Vec::new());
                    $(FIELDS.$field.put(generator, &mut properties, &mut required);)+
                    let either: &[&[&str]] = &[$($(&[$($one),+]),+)?];
                    $crate::field::object(concat!($($about),+), properties, required, either)
                }
            }

            $($($part)+)?
        }
    };
}

/// Makes the part of the plan that a table means, field by field:
///
/// * `field: TYPE as T`: it has the field as it is read, a `T`;
/// * `field: TYPE => T`: it has a `T` that `resolve` gives, which more than the
///   field decides;
/// * `field: TYPE`: it has no such field, only `resolve` uses it.
///
/// A text after `T`, as in `as f64, "0 to 1."`, says more of the value.
///
/// With `: Default` the part has as its default what an empty table means.
macro_rules! part {
    (
        $head:tt { $($model:tt)* } { $($plain:ident)* } { $($given:tt)* }
        $(#[doc = $what:literal])* $field:ident $(= $name:literal)?: $type:ty
            as $value:ty $(, $told:literal)? = $declaration:expr, $($rest:tt)*
    ) => {
        $crate::field::part! {
            $head
            {
                $($model)*
                $(#[doc = $what])*
                $(#[doc = concat!("\n\n", $told)])?
                #[doc = concat!("\n\nDeclared as\n```text\n", stringify!($declaration), "\n```")]
                pub $field: $value,
            }
            { $($plain)* $field } { $($given)* } $($rest)*
        }
    };
    (
        $head:tt { $($model:tt)* } { $($plain:ident)* } { $($given:tt)* }
        $(#[doc = $what:literal])* $field:ident $(= $name:literal)?: $type:ty
            => $resolved:ty $(, $told:literal)? = $declaration:expr, $($rest:tt)*
    ) => {
        $crate::field::part! {
            $head
            {
                $($model)*
                $(#[doc = $what])*
                $(#[doc = concat!("\n\n", $told)])?
                pub $field: $resolved,
            }
            { $($plain)* } { $($given)* $field: $resolved, } $($rest)*
        }
    };
    (
        $head:tt { $($model:tt)* } { $($plain:ident)* } { $($given:tt)* }
        $(#[doc = $what:literal])* $field:ident $(= $name:literal)?: $type:ty
            = $declaration:expr, $($rest:tt)*
    ) => {
        $crate::field::part! {
            $head { $($model)* } { $($plain)* } { $($given)* } $($rest)*
        }
    };
    (
        {
            $(#[doc = $about:literal])+ #[derive($($derive:ident),+)]
            $part:ident $default:tt
        }
        { $($model:tt)* } { $($plain:ident)* } { $($given:ident: $resolved:ty,)* }
    ) => {
        $(#[doc = $about])+
        #[derive($($derive),+)]
        pub struct $part {
            $($model)*
        }

        $crate::field::part! { of $part { $($plain)* } { $($given: $resolved,)* } }
        $crate::field::part! { absent $default $part { $($plain)* } { $($given)* } }
    };
    (of $part:ident { $($plain:ident)* } {}) => {
        impl $crate::field::Part for Text {
            type Part = $part;

            fn part(self, check: &mut Check<'_>, entry: &Entry, within: &str) -> Option<$part> {
                let read = self.read(check, entry, within);
                Some($part { $($plain: read.$plain?,)* })
            }
        }
    };
    (of $part:ident { $($plain:ident)* } { $($given:ident: $resolved:ty,)+ }) => {
        /// What `resolve` gives; nothing in the place of a problem.
        pub(crate) struct Resolved {
            $(pub(crate) $given: Option<$resolved>,)+
        }

        impl Read {
            /// The part of the plan; nothing together with a problem.
            pub(crate) fn with(self, resolved: Resolved) -> Option<$part> {
                Some($part { $($plain: self.$plain?,)* $($given: resolved.$given?,)+ })
            }
        }
    };
    (absent {} $part:ident $plain:tt $given:tt) => {};
    (absent { Default } $part:ident { $($plain:ident)* } { $($given:ident)* }) => {
        /// What a plan without the table is taken to say.
        impl Default for $part {
            fn default() -> Self {
                Self { $($plain: FIELDS.$plain.absent(),)* $($given: Default::default(),)* }
            }
        }
    };
}

pub(crate) use {part, table};
