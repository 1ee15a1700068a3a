//! `expect` and its kin: collected, reported, never ending the script.

use std::sync::Arc;

use dryturn_record::Expectation;
use dryturn_record::ledger::{ExpectLine, Line};
use rhai::{Dynamic, Engine, NativeCallContext};

use crate::session::{Fallible, Session, fault};

pub(crate) fn number(value: &Dynamic) -> Fallible<f64> {
    if value.is_unit() {
        return fault("a number is needed here, and this value is empty: ()");
    }
    let float = value.as_float().ok().or_else(|| value.as_int().ok().map(|i| i as f64));
    match float {
        Some(number) => Ok(number),
        None => {
            fault(format!("a number is needed here, not a value of type {}", value.type_name()))
        }
    }
}

/// A figure for people: three decimals at most.
fn shown(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl Session {
    fn expectation(
        &self,
        context: &NativeCallContext,
        held: bool,
        figures: String,
        message: &str,
    ) -> Fallible<()> {
        self.count_text(message)?;
        let line = context.call_position().line();
        let message = message.to_owned();
        let mut record = self.record();
        let own = Expectation { message, held, figures, line };
        record.ledger.push(Line::Expect(ExpectLine::of(&own)));
        record.expectations.push(own);
        Ok(())
    }
}

pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn("expect", move |context: NativeCallContext, held: bool, message: &str| {
        s.expectation(&context, held, held.to_string(), message)
    });
    let s = session.clone();
    engine.register_fn(
        "expect_near",
        move |context: NativeCallContext,
              value: Dynamic,
              wanted: Dynamic,
              tolerance: Dynamic,
              message: &str|
              -> Fallible<()> {
            let (v, w, t) = (number(&value)?, number(&wanted)?, number(&tolerance)?);
            let figures = format!("{}, wanted {} ± {}", shown(v), shown(w), shown(t));
            s.expectation(&context, (v - w).abs() <= t, figures, message)
        },
    );
    type Bound = (&'static str, &'static str, fn(f64, f64) -> bool);
    let bounds: [Bound; 2] = [
        ("expect_at_least", "at least", |v, bound| v >= bound),
        ("expect_at_most", "at most", |v, bound| v <= bound),
    ];
    for (verb, words, holds) in bounds {
        let s = session.clone();
        engine.register_fn(
            verb,
            move |context: NativeCallContext,
                  value: Dynamic,
                  bound: Dynamic,
                  message: &str|
                  -> Fallible<()> {
                let (v, b) = (number(&value)?, number(&bound)?);
                let figures = format!("{}, wanted {words} {}", shown(v), shown(b));
                s.expectation(&context, holds(v, b), figures, message)
            },
        );
    }
}
