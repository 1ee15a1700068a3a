//! The comment beside a verb, taken apart. Its form is strict: what the verb does; a line for each
//! argument; what it gives; an example.

/// The parts of a comment.
#[derive(Default)]
pub(super) struct Parts {
    pub(super) says: String,
    pub(super) arguments: Vec<(String, String)>,
    pub(super) gives: Option<String>,
    pub(super) example: Option<String>,
}

/// Appends a line to a text that is broken into lines.
fn continued(text: &mut String, line: &str) {
    if !text.is_empty() {
        text.push(' ');
    }
    text.push_str(line.trim());
}

/// Takes a comment apart.
pub(super) fn parts(comment: &str) -> Result<Parts, String> {
    let mut found = Parts::default();
    let lines = comment.lines().map(|line| {
        let text = line.trim_start().trim_start_matches("///");
        text.strip_prefix(' ').unwrap_or(text)
    });
    let mut example: Option<Vec<&str>> = None;
    let mut open = false;
    for line in lines {
        if open {
            open = line != "```";
            if open {
                example.get_or_insert_default().push(line);
            }
        } else if line == "```rhai" && example.is_none() {
            open = true;
        } else if example.is_some() && !line.is_empty() {
            return Err(format!("nothing may follow the example, but {line:?} does"));
        } else if let Some(rest) = line.strip_prefix("* `") {
            let argument = rest.split_once("` - ").filter(|_| found.gives.is_none());
            let (name, meaning) = argument
                .ok_or_else(|| format!("no argument, or behind what it gives: {line:?}"))?;
            found.arguments.push((name.to_owned(), meaning.trim().to_owned()));
        } else if let Some(rest) = line.strip_prefix("Gives ") {
            if found.gives.replace(rest.to_owned()).is_some() {
                return Err("two paragraphs say what it gives".to_owned());
            }
        } else if let Some(gives) = &mut found.gives {
            continued(gives, line);
        } else if let (Some((_, meaning)), true) =
            (found.arguments.last_mut(), line.starts_with("  "))
        {
            continued(meaning, line);
        } else if found.arguments.is_empty() {
            continued(&mut found.says, line);
        } else if !line.is_empty() {
            return Err(format!("a line that belongs to nothing: {line:?}"));
        }
    }
    if open {
        return Err("the example is not closed".to_owned());
    }
    found.says = found.says.trim().to_owned();
    found.gives = found.gives.map(|gives| gives.trim().to_owned());
    found.example = example.map(|lines| lines.join("\n"));
    if !found.says.ends_with('.') {
        return Err("it must begin with sentences that say what it does".to_owned());
    }
    if found.gives.as_ref().is_some_and(|gives| !gives.ends_with('.')) {
        return Err("what it gives must be a sentence".to_owned());
    }
    Ok(found)
}
