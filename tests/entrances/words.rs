//! What parsers stumble over.

use std::sync::LazyLock;

/// Bytes that are no text, ends of lines, spaces, letters of several bytes.
const BYTES: &[&[u8]] = &[
    b"\0",
    b"\xff",
    b"\xfe\xff",
    b"\xc3\x28",
    b"\xed\xa0\x80",
    b"\xf4\x90\x80\x80",
    b"\xef\xbb\xbf",
    b"\r\n",
    b"\r",
    b"\n",
    b"\n\n",
    b"\t",
    b" ",
    b"\xc2\xa0",
    b"\xe2\x80\x99",
    b"\xe2\x80\xa8",
    b"\xd9\xa3",
    b"\xf0\x9d\x95\x8f",
];

/// Brackets, quotes, escapes, comments, words of the formats.
const SIGNS: &str = r###"
    ( ) [ ] { } #{ () [] {} , ,, : ; = == .. * + - / | < > ! ? @ $ % & ~ ^ _
    " ' ` \ \" \n \u{110000} \ud800 \x00 r" r#" "# # ## // /* */ #![enable(implicit_some)]
    None Some( Some(None) true false null x1.5 x1e308 x-1 xNaN ../ ./ /dev/zero C:\ %s
"###;

/// Numbers at the edges of what numbers can be, and what is nearly a number.
const NUMBERS: &str = "
    0 -0.0 1 -1 0.1 1e308 -1e308 1e309 5e-324 1e-400 NaN -NaN nan inf -inf infinity 2147483647
    2147483648 -2147483649 4294967295 4294967296 9007199254740993 9223372036854775807
    -9223372036854775808 18446744073709551615 18446744073709551616 0x7f 1_000 1. .5 +5 1e 1e1e1
";

/// What is opened again and again, and what closes it.
pub(super) const OPENED: &[(&str, &str)] = &[
    ("(", ")"),
    ("[", "]"),
    ("{", "}"),
    ("(a:", ")"),
    ("#{a:", "}"),
    ("/*", "*/"),
    ("Some(", ")"),
    ("{\"a\":", "}"),
    ("`${", "}`"),
    ("if true {", "}"),
    ("|x| ", ""),
    ("-", ""),
    ("!", ""),
    ("(),", ""),
    ("a:1,", ""),
    ("fn ", ""),
];

/// All but numbers.
pub(super) static TOKENS: LazyLock<Vec<&[u8]>> = LazyLock::new(|| {
    BYTES.iter().copied().chain(SIGNS.split_whitespace().map(str::as_bytes)).collect()
});

/// As text.
pub(super) static NUMBER_TEXTS: LazyLock<Vec<&str>> =
    LazyLock::new(|| NUMBERS.split_whitespace().collect());
