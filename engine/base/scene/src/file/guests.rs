//! The block of guests: processes of the builder's own that take a part's place.

use crate::block::Words;

block! {
    /// A process of your own that takes a part's place. It runs with your rights, outside every
    /// limit of scripts: name only programs that you trust.
    Guest {
        command: Words = (Words::NONE), 0..=64, "The program and its arguments, word by word, as in [\"python3\", \"my_reader.py\"]; no shell reads them. Empty: the part is Dryturn's own.";
        start_limit_ms: u32 = 10000, 10..=600000, "How long it may take to start and to say hello.";
        limit_ms: u32 = 10000, 10..=600000, "How long it may take to answer a question, and to end after the last one. Real time, not the rig's: it keeps a guest that hangs from holding the run up.";
        latency_ms: f64 = 0.0, 0.0..=10000.0, "What an answer costs on the rig's own clock, whatever it takes here; operations that a guest reports come on top.";
    }
}

block! {
    /// Processes of the builder's own in the places of Dryturn's parts. Each sees what a real part
    /// in its place would see. A script starts them only where --allow-guests allows that.
    Guests {
        reader: Guest = (Guest::default()), (), "Reads the cube from the pictures.";
        planner: Guest = (Guest::default()), (), "Plans the turns from the cube that was read.";
        host: Guest = (Guest::default()), (), "Tells the axes when to turn.";
        controller: Guest = (Guest::default()), (), "Asks for the currents or the set-points of the six axes.";
    }
}

all_default!(Guest, Guests);
