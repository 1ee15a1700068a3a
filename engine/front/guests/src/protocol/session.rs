//! Asking a guest, one question at a time.

use dryturn_handoff::GuestRole;
use std::path::Path;
use std::time::{Duration, Instant};

use serde::Serialize;
use serde_json::Value;

use super::fields::{Answer, Null};
use super::hello::{Hello, Introduction, PROTOCOL};
use super::message::{Request, TwoPointZero, result_of};
use crate::command::{GuestCommand, Limits};
use crate::fault::{FaultKind, ProcessFault, Question};
use crate::process::{Process, Wanted};

/// A guest that has said hello. Dropped, it is ended with all that it has started.
pub struct Session {
    role: GuestRole,
    name: String,
    limits: Limits,
    process: Process,
    last_id: u64,
    line: Vec<u8>,
    thought: Duration,
    /// What ended it.
    broken: Option<ProcessFault>,
}

impl Session {
    /// Starts a guest and asks who it is.
    ///
    /// # Errors
    /// It cannot be started, or does not say hello as it must.
    pub fn start(
        role: GuestRole,
        command: &GuestCommand,
        limits: Limits,
    ) -> Result<Self, ProcessFault> {
        let process = Process::start(command).map_err(|kind| ProcessFault {
            role,
            question: Question::Start,
            kind,
            stderr_tail: Vec::new(),
        })?;
        let mut session = Self {
            role,
            name: String::new(),
            limits,
            process,
            last_id: 0,
            line: Vec::new(),
            thought: Duration::ZERO,
            broken: None,
        };
        let hello = Hello { protocol: PROTOCOL, role };
        let Introduction { name, version, .. } =
            session.within(limits.start, Question::Hello, Some(&hello))?;
        let version = version.filter(|version| !version.is_empty());
        session.name = version.map_or(name.clone(), |version| format!("{name} {version}"));
        Ok(session)
    }

    /// The part it plays.
    #[must_use]
    pub fn role(&self) -> GuestRole {
        self.role
    }

    /// What it calls itself, with its version.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// How long its answers have taken here, in real time; never a part of a result.
    #[must_use]
    pub fn thought(&self) -> Duration {
        self.thought
    }

    /// A folder that only this user can look into; it goes when the guest does.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.process.folder()
    }

    /// Asks a question.
    pub(crate) fn ask<P: Serialize, A: Answer>(
        &mut self,
        question: Question,
        params: &P,
    ) -> Result<A, ProcessFault> {
        self.within(self.limits.answer, question, Some(params))
    }

    fn within<P: Serialize, A: Answer>(
        &mut self,
        limit: Duration,
        question: Question,
        params: Option<&P>,
    ) -> Result<A, ProcessFault> {
        self.sound()?;
        self.last_id += 1;
        let answer = self.exchange(limit, question, params).and_then(A::of);
        answer.map_err(|kind| self.fault(question, kind))
    }

    fn exchange<P: Serialize>(
        &mut self,
        limit: Duration,
        method: Question,
        params: Option<&P>,
    ) -> Result<Value, FaultKind> {
        let (jsonrpc, id) = (TwoPointZero, self.last_id);
        self.line.clear();
        let written =
            serde_json::to_writer(&mut self.line, &Request { jsonrpc, id, method, params });
        debug_assert!(written.is_ok(), "questions are plain values");
        self.line.push(b'\n');
        self.process.said_nothing()?;
        let asked = Instant::now();
        let answered = self.process.ask(&self.line, Wanted::Line, limit);
        self.thought += asked.elapsed();
        answered.and_then(|()| result_of(self.process.answer(), id))
    }

    /// Sends bytes and waits for so many.
    pub(crate) fn exchange_record(
        &mut self,
        question: Question,
        bytes: &[u8],
        answer_bytes: usize,
    ) -> Result<&[u8], ProcessFault> {
        self.sound()?;
        let asked = Instant::now();
        let answered = self.process.ask(bytes, Wanted::Bytes(answer_bytes), self.limits.answer);
        self.thought += asked.elapsed();
        match answered {
            Ok(()) => Ok(self.process.answer()),
            Err(kind) => Err(self.fault(question, kind)),
        }
    }

    /// What ended it, where something has.
    fn sound(&self) -> Result<(), ProcessFault> {
        self.broken.clone().map_or(Ok(()), Err)
    }

    /// A fault with what it says on its standard error. A guest that can no longer be asked is
    /// ended.
    pub(crate) fn fault(&mut self, question: Question, kind: FaultKind) -> ProcessFault {
        let ends = kind.ends();
        if ends {
            self.process.end();
        }
        // The folder's name is another one each time; what is told of a guest is the same.
        let folder = self.folder().display().to_string();
        let same = |text: &str| text.replace(&folder, "(private folder)");
        let stderr_tail = self.process.stderr_tail().iter().map(|line| same(line)).collect();
        let fault =
            ProcessFault { role: self.role, question, kind: kind.with_texts(same), stderr_tail };
        if ends {
            self.broken = Some(fault.clone());
        }
        fault
    }

    /// Ends it after a fault that would let it go on elsewhere.
    pub(crate) fn ended_by(&mut self, fault: ProcessFault) -> ProcessFault {
        self.process.end();
        self.broken.insert(fault).clone()
    }

    /// Says goodbye, closes its standard input and waits until it has ended by itself.
    ///
    /// # Errors
    /// It does not answer, or does not end within its limit. It has ended in any case.
    pub fn goodbye(mut self) -> Result<(), ProcessFault> {
        let limit = self.limits.answer;
        let Null = self.within(limit, Question::Goodbye, None::<&()>)?;
        self.process.leave(limit).map_err(|kind| self.fault(Question::Goodbye, kind))
    }
}
