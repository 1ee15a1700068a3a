//! JSON Schemas (draft 2020-12) of what passes between Dryturn and a guest: any line of either
//! side, of each role. A controller's records are in [`record`](crate::record).

use dryturn_handoff::GuestRole;
use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use schemars::{JsonSchema, Schema};
use serde_json::Value;

use crate::protocol::{ErrorObject, Hello, Introduction, TwoPointZero};
use crate::roles::{
    Calibrate, ControlBegin, ControlBegun, HostBegin, HostResult, HostView, PlanQuestion,
    PlanResult, ReadPictures, ReadResult,
};

/// A line of either side.
#[derive(JsonSchema)]
#[serde(untagged)]
#[expect(dead_code, reason = "only its schema is used")]
enum Line<Q, R> {
    /// From Dryturn: a question.
    Question(Question<Q>),
    /// From the guest: its answer, with the question's id.
    Answer(Answered<R>),
    /// From the guest: why it gives none.
    Error(Refused),
}

#[derive(JsonSchema)]
#[expect(dead_code, reason = "only its schema is used")]
struct Question<Q> {
    jsonrpc: TwoPointZero,
    /// A whole number, each its own.
    id: u64,
    #[serde(flatten)]
    method: Q,
}

#[derive(JsonSchema)]
#[expect(dead_code, reason = "only its schema is used")]
struct Answered<R> {
    jsonrpc: TwoPointZero,
    /// That of the question.
    id: u64,
    /// What the guest answers.
    result: R,
}

#[derive(JsonSchema)]
#[expect(dead_code, reason = "only its schema is used")]
struct Refused {
    jsonrpc: TwoPointZero,
    /// That of the question; null where it could not be made out.
    id: Option<u64>,
    /// Why there is no result.
    error: ErrorObject,
}

/// The questions of a role, and its results.
macro_rules! role {
    ($questions:ident { $( #[doc = $what:literal] $method:ident ( $params:ty ) ),+ }
     $results:ident { $( #[doc = $says:literal] $result:ident ( $holds:ty ) ),+ }) => {
        #[derive(JsonSchema)]
        #[expect(dead_code, reason = "only its schema is used")]
        #[serde(tag = "method", content = "params", rename_all = "snake_case")]
        enum $questions {
            /// Who is there?
            Hello(Hello),
            $( #[doc = $what] $method($params), )+
            /// The last question; the guest ends when its standard input does.
            Goodbye,
        }

        #[derive(JsonSchema)]
        #[expect(dead_code, reason = "only its schema is used")]
        #[serde(untagged)]
        enum $results {
            /// To `hello`.
            Introduction(Introduction),
            $( #[doc = $says] $result($holds), )+
            /// To all else.
            Nothing,
        }
    };
}

role!(
    ReaderQuestion {
        /// Cameras as drawn, and known cubes.
        Calibrate(Calibrate),
        /// What do these show?
        Read(ReadPictures)
    }
    ReaderResult {
        /// To `read`.
        Read(ReadResult)
    }
);
role!(
    PlannerQuestion {
        /// Which turns solve this?
        Plan(PlanQuestion)
    }
    PlannerResult {
        /// To `plan`.
        Plan(PlanResult)
    }
);
role!(
    HostQuestion {
        /// A run begins.
        Begin(HostBegin),
        /// What is to be done now?
        Tick(HostView)
    }
    HostsResult {
        /// To `tick`.
        Tick(HostResult)
    }
);
role!(
    ControllerQuestion {
        /// A run begins; after the answer both sides speak records until it ends.
        Begin(ControlBegin)
    }
    ControllerResult {
        /// To `begin`.
        Begun(ControlBegun)
    }
);

fn of<T: JsonSchema>() -> Schema {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    let settings = settings.with_transform(RecursiveTransform(tell_params));
    settings.into_generator().into_root_schema_for::<T>()
}

/// Parameters have no comment of their own that would say what they are.
fn tell_params(schema: &mut Schema) {
    let properties = schema.get_mut("properties").and_then(Value::as_object_mut);
    if let Some(Value::Object(params)) = properties.and_then(|keys| keys.get_mut("params")) {
        params.entry("description").or_insert_with(|| "What the question is about.".into());
    }
}

/// The schema of every line, of either side, between Dryturn and a guest of a role.
#[must_use]
pub fn lines(role: GuestRole) -> Schema {
    match role {
        GuestRole::Reader => of::<Line<ReaderQuestion, ReaderResult>>(),
        GuestRole::Planner => of::<Line<PlannerQuestion, PlannerResult>>(),
        GuestRole::Host => of::<Line<HostQuestion, HostsResult>>(),
        GuestRole::Controller => of::<Line<ControllerQuestion, ControllerResult>>(),
    }
}
