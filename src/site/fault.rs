//! What is wrong with a value, before its place in the file is known.

/// One thing wrong with a value, and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// A lower-case phrase that names the value as written.
    pub message: String,
    /// What to write instead, as an instruction.
    pub remedy: String,
    /// If the value is a list and not all of it is wrong: the entries that are.
    pub(crate) entries: Vec<usize>,
}

impl Fault {
    pub(crate) fn new(message: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            remedy: remedy.into(),
            entries: Vec::new(),
        }
    }

    /// The same, for only these entries of a list.
    pub(crate) fn of_entries(self, entries: Vec<usize>) -> Self {
        Self { entries, ..self }
    }
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}; {}", self.message, self.remedy)
    }
}

impl std::error::Error for Fault {}

/// The candidate nearest to `word`, if near enough to be a likely misspelling.
///
/// Near enough means a Jaro-Winkler similarity of 0.8, or one edit of a word with more than one letter. Below
/// that, hints mislead more often than they help (judged by the misspellings in the tests).
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    candidates
        .into_iter()
        .map(|candidate| {
            let similar = strsim::jaro_winkler(word, candidate);
            let near = word.len() > 1
                && (similar >= 0.8 || strsim::damerau_levenshtein(word, candidate) <= 1);
            (candidate, similar, near)
        })
        .filter(|(_, _, near)| *near)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(candidate, _, _)| candidate)
}

/// `a`, `b` or `c`: the words in back-quotes, for a message.
pub(crate) fn listed<'a>(words: impl IntoIterator<Item = &'a str>, joiner: &str) -> String {
    let quoted: Vec<String> = words.into_iter().map(|word| format!("`{word}`")).collect();
    match quoted.split_last() {
        None => "nothing".into(),
        Some((only, [])) => only.clone(),
        Some((last, rest)) => format!("{} {joiner} {last}", rest.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misspelling_finds_its_word_and_a_stranger_finds_none() {
        let zones = ["front", "fence", "gate"];
        assert_eq!(nearest("fornt", zones), Some("front"));
        assert_eq!(nearest("fences", zones), Some("fence"));
        assert_eq!(nearest("swimming", zones), None);
    }

    #[test]
    fn words_are_listed_as_one_says_them() {
        assert_eq!(listed(["a"], "or"), "`a`");
        assert_eq!(listed(["a", "b", "c"], "or"), "`a`, `b` or `c`");
    }
}
