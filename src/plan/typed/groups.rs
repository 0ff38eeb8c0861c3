//! Groups of people, and what everybody does without the relay, as typed.

use std::fmt;

use super::measures::CARRY;
use super::predictions::QUALITIES;
use crate::field::{
    AnyText, Choice, Left, LeftOptional, List, Name, Of, Optional, Required, Steps, Usual, Written,
    inner_list, left, left_optional, list, of, optional, required, table, usual,
};
use crate::{AudioQuality, Bridge, Carry, Member, People};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserialize, Deserializer, Error, SeqAccess, Visitor};

table! {
    /// People who work together on one simplex channel when the relay is silent.
    #[derive(Debug, Clone, PartialEq, Eq)]
    group as Group {
        /// What it is called.
        name: Required<Name> as String = required(Name).such_as(&["Medical", "Route marshals"]),
        /// Names of its posts.
        posts: LeftOptional<List<String>> => Vec<usize>, "Their indices in `Plan::posts`." =
            left_optional(list(None), "none")
                .names(&["post"])
                .note("a post is in one group at most")
                .such_as(&["Medical tent", "First-aid post"]),
        /// Its people besides those at its posts: their names, or how many they are.
        people: LeftOptional<Of<PeopleText>> => People =
            left_optional(of(Written::People), "none")
            .note("where they are is not known, so nothing is predicted for them")
            .allowed("such as `[\"Runner 1\", \"Runner 2\"]` or `4`"),
        /// Name of its channel, one of kind `simplex`.
        channel: Left<AnyText> => usize, "Its index in `Plan::channels`." =
            left(AnyText).names(&["channel"]),
        /// Who leads it.
        head: Left<AnyText> => Member = left(AnyText)
            .names_among_others(&["post"])
            .allowed("one of its posts, or one of its people by name"),
        /// The post that runs the net on its channel.
        net_control: LeftOptional<AnyText> => Option<usize>, "Its index in `Plan::posts`." =
            left_optional(
                AnyText,
                "the head's post; where a person leads, its only post or the best connected one, \
                 said to be a proposal",
            )
            .names(&["post"])
            .allowed("one of its posts"),
        /// Name of the `[[crew]]` whose kit each of them carries.
        carries: LeftOptional<AnyText> => Option<usize>, "Its index in `PowerInputs::crews`." =
            left_optional(AnyText, "not said")
                .names(&["crew"])
                .note("a radio of its own is `radio` of the `[[post]]`"),
        /// Its posts or people who listen to a second channel and relay messages.
        bridges = "bridge": LeftOptional<Of<Vec<bridge::Text>>> => Vec<Bridge> =
            left_optional(inner_list::<bridge::Text>(), "none")
                .allowed("such as `[{ post = \"Medical tent\", to = \"Simplex\" }]`"),
    }
}

table! {
    /// Somebody of a group who listens to a second channel.
    bridge either [["post"], ["person"]] {
        /// The post.
        post: Optional<AnyText> = optional(AnyText, "").shown("none with `person`")
            .names(&["post"])
            .allowed("one of the group's posts"),
        /// The person, in place of a post.
        person: Optional<AnyText> = optional(AnyText, "").shown("none with `post`")
            .allowed("one of the group's people by name"),
        /// The second channel.
        to: Optional<AnyText> = optional(AnyText, "the first channel of the fallback")
            .names(&["channel", "group"])
            .allowed("name of a simplex channel, or of the group whose channel it is"),
    }
}

table! {
    /// What everybody does when the relay falls silent.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    fallback as FallbackInputs: Default {
        /// The channel that everybody changes to first, one of kind `simplex`.
        first: LeftOptional<AnyText> => Option<usize>, "Its index in `Plan::channels`." =
            left_optional(
                AnyText,
                "the one on which most posts reach net control; one that is a group's own, or \
                 that only some use, if there is no other",
            )
            .names(&["channel"]),
        /// Delivered audio quality wanted without the relay.
        audio_quality: Usual<Steps<AudioQuality>> as AudioQuality =
            usual(QUALITIES, AudioQuality::Daq30)
                .note("repeating a word is accepted then; with the relay that of `[prediction]`"),
        /// Where radios are held without the relay, but at posts that state their own.
        carry: Usual<Choice<Carry>> as Carry = usual(CARRY, Carry::Head),
    }
}

/// Names, or a number.
#[derive(Debug, Clone)]
pub(crate) enum PeopleText {
    Named(Vec<String>),
    Counted(i64),
}

impl<'de> Deserialize<'de> for PeopleText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Typed;
        impl<'de> Visitor<'de> for Typed {
            type Value = PeopleText;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list of names such as [\"Runner 1\", \"Runner 2\"], or a number")
            }
            fn visit_i64<E: Error>(self, count: i64) -> Result<PeopleText, E> {
                Ok(PeopleText::Counted(count))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, seq: A) -> Result<PeopleText, A::Error> {
                let items = serde::de::value::SeqAccessDeserializer::new(seq);
                Vec::deserialize(items).map(PeopleText::Named)
            }
        }
        deserializer.deserialize_any(Typed)
    }
}

impl JsonSchema for PeopleText {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "People".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "anyOf": [
                { "type": "array", "minItems": 1, "items": { "type": "string", "minLength": 1 } },
                { "type": "integer", "minimum": 1, "maximum": People::MOST },
            ],
        })
    }
}
