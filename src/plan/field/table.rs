//! The types of a table out of the declarations of its fields.

/// Makes the module of a table: `Text` is what the file holds, `Read` what its
/// fields mean, `FIELDS` the declarations.
///
/// `either` lists sets of fields of which a plan has exactly one.
macro_rules! table {
    (
        $(#[doc = $about:literal])+
        $table:ident $(either [$([$($one:literal),+]),+])? {
            $($(#[doc = $what:literal])* $field:ident: $type:ty = $declaration:expr,)+
        }
    ) => {
        $(#[doc = $about])+
        pub(crate) mod $table {
            use super::*;
            use $crate::field::{Declared, FieldRow, Table};
            use $crate::resolve::{Check, Entry};

            /// What the file holds.
            #[derive(Debug, serde::Deserialize)]
            #[serde(deny_unknown_fields)]
            pub(crate) struct Text {
                $(pub(crate) $field: <$type as Declared>::Typed,)+
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
                $($field: $declaration.called(stringify!($field), concat!("", $($what),*)),)+
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
        }
    };
}

pub(crate) use table;
