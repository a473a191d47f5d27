//! Everything wrong with a site file, with file, line, caret and remedy.

use std::fmt::Write;
use std::ops::Range;

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use crate::text::{WIDTH, wrapped};

use super::fault::Fault;

/// One thing wrong with the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// What is wrong, naming the table it is in.
    pub message: String,
    /// What to do about it.
    pub remedy: String,
    /// Bytes of the file to point at; `None` when the file as a whole is meant.
    pub span: Option<Range<usize>>,
    /// Another place that has to do with it, and how.
    pub related: Option<(Range<usize>, String)>,
}

impl Problem {
    pub(crate) fn new(
        span: Range<usize>,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            message: message.into(),
            remedy: remedy.into(),
            span: Some(span),
            related: None,
        }
    }

    pub(crate) fn whole(message: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            remedy: remedy.into(),
            span: None,
            related: None,
        }
    }

    pub(crate) fn fault(span: Range<usize>, place: &str, fault: Fault) -> Self {
        Self::new(span, format!("{place}: {}", fault.message), fault.remedy)
    }

    /// Whether it points into the file, to a place of which `which` holds.
    pub(super) fn starts_where(&self, which: impl Fn(usize) -> bool) -> bool {
        self.span.as_ref().is_some_and(|span| which(span.start))
    }

    pub(crate) fn and_see(mut self, span: Range<usize>, label: impl Into<String>) -> Self {
        self.related = Some((span, label.into()));
        self
    }
}

/// All problems of one file, with the text they point into.
#[derive(Debug, Clone)]
pub struct Problems {
    path: String,
    source: String,
    list: Vec<Problem>,
}

/// Most problems that a report shows: nobody mends more between two readings, and a file that is no
/// site file at all would fill the screen.
const MOST_SHOWN: usize = 50;

impl Problems {
    pub(crate) fn new(path: &str, source: &str, mut list: Vec<Problem>) -> Self {
        list.sort_by_key(|problem| problem.span.as_ref().map_or(0, |span| span.start));
        Self {
            path: path.into(),
            // Control characters beyond ASCII would reach the terminal as they are; the stand-in has
            // as many bytes, so that places stay where they were.
            source: source.replace(|c: char| c.is_control() && !c.is_ascii(), "¿"),
            list,
        }
    }

    /// The problems, in the order of the file.
    pub fn list(&self) -> &[Problem] {
        &self.list
    }

    /// The report for a terminal: how many problems first, then each with its line.
    pub fn render(&self, colour: bool) -> String {
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let renderer = renderer.decor_style(DecorStyle::Ascii).term_width(WIDTH);
        let count = match self.list.len() {
            1 => "1 problem".into(),
            many => format!("{many} problems"),
        };
        let mut report = format!("{}: {count}, nothing was done\n", self.path);
        for problem in self.list.iter().take(MOST_SHOWN) {
            let last_line = self.source.lines().count().to_string().len();
            let message = wrapped(&problem.message, WIDTH - "error: ".len());
            let remedy = wrapped(&problem.remedy, WIDTH - last_line - "  = help: ".len());
            report.push('\n');
            report.push_str(&renderer.render(&[self.group(problem, &message, &remedy)]));
            report.push('\n');
        }
        if self.list.len() > MOST_SHOWN {
            let more = self.list.len() - MOST_SHOWN;
            let _ = writeln!(report, "\n{more} more, shown when these are mended");
        }
        report
    }

    fn group<'a>(&'a self, problem: &'a Problem, message: &'a str, remedy: &'a str) -> Group<'a> {
        let help = Level::HELP.message(remedy);
        let title = Level::ERROR.primary_title(message);
        let Some(span) = &problem.span else {
            let place = annotate_snippets::Origin::path(self.path.as_str());
            return title.element(place).element(help);
        };
        let mut snippet = Snippet::source(self.source.as_str())
            .path(self.path.as_str())
            .annotation(AnnotationKind::Primary.span(self.one_line(span)));
        if let Some((span, label)) = &problem.related {
            let context = AnnotationKind::Context.span(self.one_line(span));
            snippet = snippet.annotation(context.label(label.as_str()));
        }
        title.element(snippet).element(help)
    }

    /// A caret under one line says where; under a whole table it hides it.
    fn one_line(&self, span: &Range<usize>) -> Range<usize> {
        let end = span.end.min(self.source.len());
        let start = span.start.min(end);
        let line = self.source[start..end]
            .find('\n')
            .map_or(end, |at| start + at);
        start..line
    }
}
