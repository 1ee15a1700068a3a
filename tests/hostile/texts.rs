//! What hostile scripts say.

use super::verbs::{BEFORE, COUNTS, NUMBERS, VERBS};

/// One of them.
pub(super) struct Hostile {
    name: String,
    text: String,
    /// Whether it ends at once.
    pub(super) quick: bool,
}

impl Hostile {
    pub(super) fn bytes(&self) -> (String, Vec<u8>) {
        (self.name.clone(), self.text.clone().into_bytes())
    }
}

/// Those that end at once are marked with a star.
const LANGUAGE: &[(&str, &str)] = &[
    // Nothing, and what is not closed.
    ("*empty", ""),
    ("*space", " \n\n"),
    ("*comment alone", "// expect(true, \"a\")"),
    ("*open comment", "/* expect(true, \"a\")"),
    ("*open comment after", "expect(true, \"a\"); /* /* */"),
    ("*open text", "let a = \"abc"),
    ("*open block", "if true {"),
    ("*open raw text", "let a = #\"abc"),
    ("*open template", "let a = `abc ${1 + `"),
    ("*NUL", "let a = 1;\0\0"),
    ("*odd unicode", "let ä = 1; \u{202e}expect(true, \"x\");"),
    ("*byte order mark twice", "\u{feff}\u{feff}note(1);"),
    // Hiding verbs.
    ("*hides expect", "fn expect(a, b) { } expect(false, \"x\");"),
    ("*hides expect, other arity", "fn expect(a) { } expect(false, \"x\");"),
    ("*hides privately", "private fn expect_at_most(a, b, c) {} expect_at_most(2, 1, \"x\");"),
    ("*hides scan", "fn scan(a, b) { 1 } scan(1, 2);"),
    ("*hides the language", "fn len(x) { 0 } note([1].len());"),
    ("*variable as verb", "let expect = |a, b| (); expect(false, \"x\");"),
    ("*eval", "eval(\"expect(true, 1)\");"),
    ("*import", "import \"/etc/passwd\" as p;"),
    ("*import module", "import \"s\" as p; p::x();"),
    ("*export", "let a = 1; export a;"),
    ("*pointer to verb", "let f = Fn(\"expect\"); f.call(false, \"x\");"),
    // Endless.
    ("loop", "loop { }"),
    ("while", "while true { let a = 1; }"),
    ("for", "for i in 0..9223372036854775807 { }"),
    ("for stepped", "for i in range(0, 9223372036854775807, 1) { }"),
    ("*for of no step", "for i in range(0, 10, 0) { }"),
    ("do until", "do { } until false;"),
    ("*recursion", "fn f() { f() } f();"),
    ("*recursion with values", "fn f(a) { f(a + a) } f([1, 2, 3]);"),
    ("*recursion of closures", "let f = |g| g.call(g); f.call(f);"),
    ("*recursion both ways", "fn a(n) { b(n + 1) } fn b(n) { a(n + 1) } a(0);"),
    ("branching recursion", "fn f(n) { if n == 0 { 1 } else { f(n - 1) + f(n - 1) } } f(30);"),
    ("map", "[1].map(|x| { loop { } });"),
    ("filter", "[1].filter(|x| { while true { } true });"),
    ("reduce", "[1, 2].reduce(|a, b| { loop { } });"),
    ("reduce_rev", "[1, 2].reduce_rev(|a, b| { loop { } });"),
    ("sort", "[1, 2].sort(|a, b| { loop { } });"),
    ("some", "[1].some(|x| { loop { } });"),
    ("all", "[1].all(|x| { loop { } });"),
    ("for_each", "[1].for_each(|| { loop { } });"),
    ("index_of", "[1].index_of(|x| { loop { } });"),
    ("find", "[1].find(|x| { loop { } });"),
    ("retain", "let a = [1]; a.retain(|x| { loop { } });"),
    ("drain", "let a = [1]; a.drain(|x| { loop { } });"),
    ("dedup", "let a = [1, 1]; a.dedup(|x, y| { loop { } });"),
    ("map of maps", "#{a: 1}.filter(|x, v| { loop { } });"),
    ("callbacks that count", "let a = []; a.pad(10000, 0); loop { a.map(|x| x + 1); }"),
    ("callbacks inside", "let a = []; a.pad(1000, 0); a.map(|x| a.map(|y| a.map(|z| z + x + y)));"),
    (
        "filter inside filter",
        "let a = []; a.pad(5000, 0); a.filter(|x| a.filter(|y| y == x).len() > 0);",
    ),
    (
        "sorting for ever",
        "let a = []; for i in 0..10000 { a.push(i * 7919 % 10007); } loop { a.sort(|x, y| y - x); }",
    ),
    ("try for ever", "loop { try { throw 1; } catch (e) { } }"),
    ("catching the end", "loop { try { loop { } } catch (e) { note(e); } }"),
    ("catch round a verb", "loop { try { [1].map(|x| { loop { } }); } catch (e) { } }"),
    ("switch for ever", "let n = 0; loop { switch n { 0 => n = 1, _ => n = 0 } }"),
    ("texts for ever", "let s = \"\"; loop { s = \"a\" + s.sub_string(0, 50); }"),
    ("random cubes for ever", "let i = 0; loop { random_cube(i); i += 1; }"),
    ("notation for ever", "loop { plan_of(\"R U R' U'\"); }"),
    // Memory by values.
    ("*doubled text", "let s = \"a\"; loop { s += s; }"),
    ("*doubled list", "let a = [1]; loop { a += a; }"),
    ("*nested list", "let a = []; loop { a = [a, a]; }"),
    ("*nested map", "let a = #{}; loop { a = #{a: a, b: a}; }"),
    ("*padded", "let a = []; a.pad(9223372036854775807, 1);"),
    ("*padded with lists", "let b = []; b.pad(9999, 1); let a = []; a.pad(9999, b);"),
    ("*padded text", "let s = \"a\"; s.pad(9223372036854775807, 'x');"),
    (
        "list by index",
        "let b = []; b.pad(9999, 1.5); let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = b; }",
    ),
    (
        "map by index",
        "let b = []; b.pad(9999, 1.5); let m = #{}; for i in 0..9999 { m[\"k\" + i] = b; }",
    ),
    (
        "map by property",
        "let b = []; b.pad(9999, 1.5); let m = #{a: 0, b: 0}; loop { m.a = b; m.b = m.a; }",
    ),
    (
        "lists by index, copied",
        "let b = []; b.pad(9999, 1); let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = b; } let c = a; let d = [c];",
    ),
    (
        "copies in variables",
        "let b = []; b.pad(9999, 1); let a = []; a.pad(999, 0); for i in 0..999 { a[i] = b; let c = a; let d = a; let e = a; }",
    ),
    (
        "small lists by index",
        "let a = []; a.pad(9999, 0); for i in 0..9999 { let b = []; b.pad(999, 0); for j in 0..999 { b[j] = [j]; } a[i] = b; }",
    ),
    (
        "texts by index",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s + i; }",
    ),
    (
        "shared texts shown",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } note(a);",
    ),
    (
        "shared texts printed",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } print(a);",
    ),
    (
        "shared texts debugged",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } debug(a);",
    ),
    (
        "shared texts as text",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } a.to_string();",
    ),
    (
        "shared texts for debugging",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } a.to_debug();",
    ),
    (
        "shared texts added",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } let t = \"\" + a;",
    ),
    (
        "shared texts in a template",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } let t = `${a}`;",
    ),
    (
        "shared texts thrown",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } throw a;",
    ),
    (
        "shared texts as JSON",
        "let s = \"a\"; for i in 0..16 { s += s; } let m = #{}; for i in 0..9999 { m[\"k\" + i] = s; } m.to_json();",
    ),
    (
        "shared texts compared",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } let b = a; loop { a == b; }",
    ),
    (
        "shared texts as field",
        "let s = \"a\"; for i in 0..16 { s += s; } let a = []; a.pad(9999, 0); for i in 0..9999 { a[i] = s; } scene(\"../scenes/workbench.ron\").changed(\"name\", a);",
    ),
    ("texts in pieces", "let s = \"\"; for i in 0..90000 { s += \"a\"; } loop { s.split(\"\"); }"),
    (
        "letters",
        "let s = \"a\"; for i in 0..16 { s += s; } loop { s.to_chars(); s.split(); s.bytes; }",
    ),
    ("closures that hold", "let f = |x| x; loop { f = f.curry(f); }"),
    (
        "closures that hold lists",
        "let b = []; b.pad(9999, 1); let a = []; loop { a.push(|x| x); a[a.len() - 1] = Fn(\"note\").curry(b); }",
    ),
    (
        "captured",
        "let b = []; b.pad(9999, 1); let fs = []; for i in 0..9999 { let c = b; fs.push(|| c.len()); }",
    ),
    ("shared by capture", "let a = [1]; let f = || { a.push(a.len()); a }; loop { f.call(); }"),
    ("nested by index", "let a = [0]; for i in 0..9990 { let b = [0]; b[0] = a; a = b; } note(a);"),
    ("nested by moving", "let a = [0]; loop { let b = [0]; b[0] = a.pop(); a.push(b); }"),
    ("nested and compared", "let a = [0]; for i in 0..9000 { a = [a]; } let b = a; a == b;"),
    ("nested and shown", "let a = [0]; for i in 0..9000 { a = [a]; } a.to_string();"),
    (
        "nested maps and shown",
        "let a = #{}; for i in 0..9000 { a = #{a: a}; } note(a); a.to_json();",
    ),
    (
        "nested and cloned",
        "let a = [0]; for i in 0..9000 { a = [a]; } for i in 0..10000 { let b = a; }",
    ),
    (
        "many variables",
        "let t = []; t.pad(9999, 1.0); fn f(t, n) { let a = t; let b = t; if n > 0 { f(a, n - 1) } } f(t, 25);",
    ),
    (
        "many arguments",
        "fn f(a, b, c, d, e, g, h, i) { f2(a, a, b, b, c, c, d, d) } fn f2(a, b, c, d, e, g, h, i) { f(a, b, c, d, e, g, h, i) } let t = []; t.pad(9999, 1.0); f(t, t, t, t, t, t, t, t);",
    ),
    ("*huge text in the source", "HUGE_TEXT"),
    ("*deep expression", "DEEP_EXPRESSION"),
    ("*deep list", "DEEP_LIST"),
    ("*deep blocks", "DEEP_BLOCKS"),
    ("*many functions", "MANY_FUNCTIONS"),
    ("*many variables at once", "MANY_VARIABLES"),
    ("*replace", "let s = \"a\"; for i in 0..16 { s += s; } s = s.replace(\"a\", s);"),
    ("*replace nothing", "let s = \"a\"; for i in 0..16 { s += s; } s = s.replace(\"\", s);"),
    ("*notes", "let s = \"a\"; for i in 0..16 { s += s; } loop { note(s); }"),
    ("*prints", "let s = \"a\"; for i in 0..16 { s += s; } for i in 0..100000 { print(s); }"),
    ("short notes", "loop { note(1); }"),
    ("expectations", "loop { expect(true, \"a\"); }"),
    ("*long expectations", "let s = \"a\"; for i in 0..16 { s += s; } loop { expect(true, s); }"),
    // Numbers.
    ("*least whole number", "let a = -9223372036854775807 - 1; note(a / -1);"),
    ("*least modulo", "let a = -9223372036854775807 - 1; note(a % -1);"),
    ("*absolute of the least", "let a = -9223372036854775807 - 1; note(abs(a));"),
    ("*negated least", "let a = -9223372036854775807 - 1; note(-a);"),
    ("*overflow", "note(9223372036854775807 + 1);"),
    ("*product", "note(9223372036854775807 * 9223372036854775807);"),
    ("*power", "note(10 ** 100000);"),
    ("*shift", "note(1 << 100000); note(1 >> -100000);"),
    ("*nought", "note(1 / 0);"),
    ("*nought modulo", "note(1 % 0);"),
    (
        "*not a number",
        "let n = 0.0 / 0.0; expect_near(n, n, n, \"n\"); expect_at_most(n, 1, \"n\");",
    ),
    ("*infinity", "let n = 1.0 / 0.0; expect_at_least(n, n, \"n\"); note(rounded(n, 9));"),
    ("*huge float shown", "note(rounded(1e308, 9)); note(1e308); print(1e308);"),
    ("*root of below zero", "sqrt(-1);"),
    ("*decimals", "rounded(1, 9223372036854775807);"),
    ("*index", "let a = [1]; a[9223372036854775807];"),
    ("*index below zero", "let a = [1]; a[-9223372036854775807 - 1];"),
    ("*letter of a text", "\"a\"[-9223372036854775807];"),
    ("*bits", "let a = 1; a[200] = true;"),
    (
        "*insert far",
        "let a = [1]; a.insert(9223372036854775807, 1); a.remove(-5); a.splice(-3, 99999999999, [1]);",
    ),
    ("*chop", "let a = [1, 2]; a.chop(-9223372036854775807); a.truncate(-1); a.extract(-99, 99);"),
    ("*sub text", "\"abc\".sub_string(-9223372036854775807, 9223372036854775807);"),
    ("*crop", "let s = \"abc\"; s.crop(-99, 9223372036854775807); s.truncate(-1); s.remove(\"\");"),
    ("*parse", "parse_int(\"99999999999999999999\"); parse_float(\"1e999\");"),
    ("*parse odd base", "parse_int(\"zz\", 99);"),
    ("*sleeping", "sleep(10);"),
    ("*a clock", "timestamp();"),
    ("*json", "parse_json(\"[[[[[[\");"),
    ("*exit", "exit();"),
    ("*quit", "return 5;"),
    ("*throw map", "throw #{a: [1, #{}]};"),
    ("*throw nothing", "throw;"),
    ("*this", "this.a = 1;"),
    ("*unknown verb", "fly();"),
    ("*unknown property", "let a = #{}; a.b.c.d = 1;"),
    ("*type confusion", "scan(1, 2);"),
    ("*verb of a verb", "plan(plan(plan(random_cube(1))));"),
    ("*unit everywhere", "expect_near((), (), (), ()); "),
    // Files and names.
    ("*file above", "save_text(\"../x\", \"\");"),
    ("*file at the root", "save_text(\"/tmp/x\", \"\");"),
    ("*hidden file", "save_text(\".dryturn-lock\", \"\");"),
    ("*hidden folder", "save_text(\"a/.git/config\", \"\");"),
    ("*file of the program", "save_text(\"REPORT.html\", \"\");"),
    ("*file name of NUL", "save_text(\"a\\x00b\", \"\");"),
    ("*file name of length", "let s = \"a\"; for i in 0..10 { s += s; } save_text(s, \"\");"),
    ("*file name of dots", "save_text(\"...\", \"\");"),
    ("*file name empty", "save_text(\"\", \"\");"),
    ("*file of one folder", "save_text(\"a\", \"1\"); save_text(\"A/b\", \"2\");"),
    ("*file name in Unicode", "save_text(\"ä\u{202e}.txt\", \"\");"),
    ("*device name", "save_text(\"CON\", \"\"); save_text(\"a:b\", \"\");"),
    ("*many files", "for i in 0..2000 { save_text(\"f\" + i, \"x\"); }"),
    (
        "files of size",
        "let s = \"a\"; for i in 0..16 { s += s; } for i in 0..1000 { save_text(\"f\" + i, s); }",
    ),
    ("*deep folders", "let s = \"a\"; for i in 0..90 { s += \"/a\"; } save_text(s, \"x\");"),
    ("*markup in notes", "note(\"<script>alert(1)</script>\"); expect(true, \"<img onerror=x>\");"),
    ("*settings", "setting(\"a\", #{}); setting(\"\", 1); setting(\"a\", [1]);"),
];

/// Texts that are made.
fn made(text: &str) -> String {
    match text {
        "HUGE_TEXT" => format!("let a = \"{}\";", "a".repeat(900_000)),
        "DEEP_EXPRESSION" => format!("let a = {}1{};", "(".repeat(50_000), ")".repeat(50_000)),
        "DEEP_LIST" => format!("let a = {}{};", "[".repeat(50_000), "]".repeat(50_000)),
        "DEEP_BLOCKS" => format!("{}{}", "if true {".repeat(20_000), "}".repeat(20_000)),
        "MANY_FUNCTIONS" => (0..2000).map(|i| format!("fn f{i}() {{}}\n")).collect(),
        "MANY_VARIABLES" => (0..5000).map(|i| format!("let v{i} = {i};\n")).collect(),
        own => own.to_owned(),
    }
}

/// All of them.
pub(super) fn all() -> Vec<Hostile> {
    let language = LANGUAGE.iter().map(|(name, text)| Hostile {
        name: name.trim_start_matches('*').to_owned(),
        text: made(text),
        quick: name.starts_with('*'),
    });
    let verbs = VERBS.iter().map(|(name, text)| Hostile {
        name: (*name).to_owned(),
        text: format!("{BEFORE}{text}"),
        quick: false,
    });
    let counts = COUNTS.iter().flat_map(|call| {
        NUMBERS.iter().map(move |number| {
            // A map begins with the same sign.
            let call = call.replace("#{", "\u{1}").replace('#', number).replace('\u{1}', "#{");
            Hostile {
                name: format!("count: {call}"),
                text: format!("{BEFORE}{call}"),
                quick: false,
            }
        })
    });
    language.chain(verbs).chain(counts).collect()
}
