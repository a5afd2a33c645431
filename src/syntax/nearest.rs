//! The word that was probably meant.

/// How many letters must change to make one word the other, swaps counted once.
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, to) in b.iter().enumerate() {
            let get = |row: &[usize], at: usize| row.get(at).copied().unwrap_or(usize::MAX - 1);
            let mut best = (get(&last, j) + usize::from(from != to))
                .min(get(&last, j + 1) + 1)
                .min(get(&row, j) + 1);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(to) && b.get(j - 1) == Some(from);
            if swapped {
                best = best.min(get(&before, j - 1) + 1);
            }
            row.push(best);
        }
        before = last;
        last = row;
    }
    last.last().copied().unwrap_or(0)
}

/// The nearest of `words`, if it is near enough to be meant.
pub(crate) fn nearest<'w>(text: &str, words: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    let most = match text.chars().count() {
        0 => return None,
        1..=3 => 1,
        4..=7 => 2,
        _ => 3,
    };
    words
        .into_iter()
        .map(|word| (distance(text, word), word))
        .filter(|(far, _)| *far <= most)
        .min()
        .map(|(_, word)| word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swapped_letter_is_one_slip_and_far_words_are_none() {
        assert_eq!(
            nearest("magnezium", ["magnesium", "potassium"]),
            Some("magnesium")
        );
        assert_eq!(nearest("x", ["magnesium"]), None);
        assert_eq!(distance("hodl", "hold"), 1);
    }
}
