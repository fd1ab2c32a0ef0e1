//! `trundle-bus`, version 1: what the implement bus shows against the satellites, as one JSON
//! object.
//!
//! The schema stands in `host/schemas/trundle-bus-1.schema.json`. Fields are only ever added.

use super::document::{list, objects, to_text};
use crate::cautions;
use crate::figure::COVERAGE;
use crate::stats::fit::line::Estimate;
use crate::survey::bus::{
    BusDelay, BusScale, BusStream, BusSurvey, DelayAgainst, KeyedIn, NoDelay, NoScale,
};
use crate::wire::bus::message::{BusSpeed, SelectedSource};
use serde::Serialize;

/// The survey as one line of JSON, without a line end. Same survey, same bytes.
#[must_use]
pub fn to_json(survey: Option<&BusSurvey>, keyed: &KeyedIn) -> String {
    to_text(&bus_v1(survey, keyed))
}

/// The stable word of a speed.
#[must_use]
pub const fn speed_word(kind: BusSpeed) -> &'static str {
    match kind {
        BusSpeed::Wheel => "wheel",
        BusSpeed::Ground => "ground",
        BusSpeed::Selected => "selected",
    }
}

/// The stable word of a source.
#[must_use]
pub const fn source_word(source: SelectedSource) -> &'static str {
    match source {
        SelectedSource::Wheel => "wheel",
        SelectedSource::Ground => "ground",
        SelectedSource::Navigation => "navigation",
        SelectedSource::Blended => "blended",
        SelectedSource::Simulated => "simulated",
        SelectedSource::Reserved(_) => "reserved",
    }
}

fn delay(delay: &Result<BusDelay, NoDelay>) -> impl Serialize {
    delay_v1(delay.as_ref().ok(), delay.as_ref().err())
}

fn scale(stream: &BusStream, keyed: &KeyedIn) -> impl Serialize {
    let given = stream.scale.as_ref().ok();
    scale_v1(given, stream.scale.as_ref().err(), keyed.right_value(stream))
}

objects! {
    bus_v1(survey: Option<&BusSurvey>, keyed: &KeyedIn) {
        format = "trundle-bus",
        version = 1,
        software = env!("CARGO_PKG_VERSION"),
        cautions = cautions::ALL,
        coverage_probability = COVERAGE,
        receiver_delay_s = survey.and_then(|survey| survey.receiver_delay_s).map(|own| own.value),
        streams = list(survey.into_iter().flat_map(|survey| &survey.streams),
            |stream| stream_v1(stream, keyed)),
        cut = survey.is_some_and(|survey| survey.cut),
    }

    stream_v1(stream: &BusStream, keyed: &KeyedIn) {
        sender = stream.key.sender,
        speed = speed_word(stream.key.kind),
        messages = stream.messages,
        with_speed = stream.with_speed,
        with_distance = stream.with_distance,
        seconds = stream.seconds,
        restarts = stream.restarts,
        sources = list(&stream.sources, |(source, messages)| source_v1(*source, *messages)),
        speed_delay = delay(&stream.speed_delay),
        distance_delay = delay(&stream.distance_delay),
        scale = scale(stream, keyed),
    }

    source_v1(source: SelectedSource, messages: usize) {
        source = source_word(source),
        messages = messages,
    }

    delay_v1(given: Option<&BusDelay>, why: Option<&NoDelay>) {
        seconds = given.map(|delay| delay.seconds.value),
        standard_uncertainty = given.map(|delay| delay.seconds.standard_uncertainty),
        expanded_uncertainty = given.map(|delay| delay.half_width_s),
        against = given.map(|delay| match delay.against {
            DelayAgainst::Ground => "ground",
            DelayAgainst::Receiver => "receiver",
        }),
        refused_because = why.map(ToString::to_string),
    }

    scale_v1(given: Option<&BusScale>, why: Option<&NoScale>, value: Option<Estimate>) {
        shown_over_true = given.map(|scale| scale.ratio.value),
        standard_uncertainty = given.map(|scale| scale.ratio.standard_uncertainty),
        expanded_uncertainty = given.map(|scale| scale.half_width),
        distance_m = given.map(|scale| scale.distance_m),
        passes = given.map(|scale| scale.passes),
        by_speed = given.map(|scale| scale.by_speed),
        impulses_per_100m = value.map(|value| value.value),
        impulses_standard_uncertainty = value.map(|value| value.standard_uncertainty),
        refused_because = why.map(ToString::to_string),
    }
}
