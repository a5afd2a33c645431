//! Rows of a CSV text (RFC 4180): quotes, either line end, comma, semicolon or tab.
//!
//! The separator is that of the first line. What may go wrong: a quote that is
//! never closed, which is told with the line where it was opened.

/// One row and the line on which it begins, counted from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    pub line: usize,
    pub fields: Vec<String>,
}

/// All rows but empty ones, or the line of a quote that is never closed.
pub fn rows(text: &str) -> Result<Vec<Row>, usize> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let first = text.lines().next().unwrap_or("");
    let separator = [',', ';', '\t']
        .into_iter()
        .find(|separator| first.contains(*separator))
        .unwrap_or(',');
    let mut rows = Vec::new();
    let mut row = Row {
        line: 1,
        fields: Vec::new(),
    };
    let mut field = String::new();
    let mut line = 1;
    let mut opened = None;
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        if character == '\n' {
            line += 1;
        }
        if opened.is_some() {
            if character != '"' {
                field.push(character);
            } else if characters.next_if_eq(&'"').is_some() {
                field.push('"');
            } else {
                opened = None;
            }
            continue;
        }
        match character {
            '"' if field.trim().is_empty() => {
                field.clear();
                opened = Some(line);
            }
            '\r' if characters.peek() == Some(&'\n') => {}
            '\n' => {
                end_row(&mut rows, &mut row, &mut field);
                row.line = line;
            }
            other if other == separator => row.fields.push(take(&mut field)),
            other => field.push(other),
        }
    }
    if let Some(opened) = opened {
        return Err(opened);
    }
    end_row(&mut rows, &mut row, &mut field);
    Ok(rows)
}

fn take(field: &mut String) -> String {
    std::mem::take(field).trim().to_owned()
}

fn end_row(rows: &mut Vec<Row>, row: &mut Row, field: &mut String) {
    row.fields.push(take(field));
    let fields = std::mem::take(&mut row.fields);
    if fields.iter().any(|field| !field.is_empty()) {
        rows.push(Row {
            line: row.line,
            fields,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(text: &str) -> Vec<Vec<String>> {
        rows(text)
            .expect("every quote is closed")
            .into_iter()
            .map(|row| row.fields)
            .collect()
    }

    #[test]
    fn quotes_separators_and_line_ends() {
        assert_eq!(
            fields("a,b\r\n1,\"x, \"\"y\"\"\"\r\n"),
            [["a", "b"], ["1", "x, \"y\""]]
        );
        assert_eq!(fields("\u{feff}a;b\n1;2\n\n"), [["a", "b"], ["1", "2"]]);
        assert_eq!(fields("a\tb"), [["a", "b"]]);
    }

    #[test]
    fn lines_are_counted_through_quotes() {
        let all = rows("a,b\n\"x\ny\",2\n3,4\n").expect("closed");
        assert_eq!(
            all.iter().map(|row| row.line).collect::<Vec<_>>(),
            [1, 2, 4]
        );
        assert_eq!(rows("a,b\n1,\"x\n"), Err(2));
    }
}
