//! Advisories: for every code a recipe that earns it and one just inside its limit that does not, or earns what
//! the code tells below that limit; every code that the source can emit is explained.

// The recipes on either side, limits worked out from formulae.
mod pairs;
// What the figures in advisories come to.
mod figures;

use crate::recipe::with;
use foreglass::recipe::Recipe;
use foreglass::rig::advisory::{Advisory, EXPLAINED, HAZARDS};
use foreglass::session::Session;
use pairs::Pair;
use proc_macro2::{TokenStream, TokenTree};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

/// Changes to the recipe of [`with`].
pub(crate) type Changes = Vec<(&'static str, Value)>;

/// Everything that is told about a recipe.
pub(crate) fn told(changes: &Changes) -> Vec<Advisory> {
    let recipe = Recipe::parse(&with(changes)).expect("a good recipe");
    let setup = recipe.setup().expect("a good rig");
    let found = setup.advisories(&setup.sensor_view());
    found.into_iter().chain(recipe.unapplied()).collect()
}

/// What is wrong with a pair, if anything is.
fn wrong(pair: &Pair) -> Option<String> {
    let Pair { code, limit, .. } = pair;
    let own = |changes: &Changes| -> Vec<Advisory> {
        let all = (pair.tells)(changes);
        all.into_iter().filter(|a| a.code == *code).collect()
    };
    let (beyond, inside) = (own(&pair.fires), own(&pair.quiet));
    let says = |text: &str| pair.says.iter().all(|words| text.contains(words));
    let right = match beyond.as_slice() {
        [a] => a.level == pair.level && says(&a.text),
        _ => false,
    };
    let lesser = match (inside.as_slice(), pair.inside) {
        ([], None) => true,
        ([a], Some((level, words))) => a.level == level && a.text.contains(words),
        _ => false,
    };
    // A pair that is told alike on either side holds no limit.
    let apart = pair.inside.is_none_or(|(level, words)| {
        level < pair.level || beyond.iter().all(|a| !a.text.contains(words))
    });
    (!right || !lesser || !apart).then(|| {
        format!(
            "{code}, {limit}: {:?} with {:?} is wanted beyond it and {:?} inside; {beyond:#?} and {inside:#?}",
            pair.level, pair.says, pair.inside
        )
    })
}

/// The same with a still of 16:9 open.
pub(crate) fn told_over_a_still(changes: &Changes) -> Vec<Advisory> {
    let folder = tempfile::tempdir().expect("a folder");
    let path = crate::session::still(folder.path(), "quay.exr", 160, 90);
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&path);
    session.finish_reading().expect("the still is read");
    // A tip tells the report of this recipe from the one before it.
    let mut changes = changes.clone();
    changes.push(("/rig/stages/0", json!({"glass": "clear", "tilt_deg": 0.5})));
    session.replace(Recipe::parse(&with(&changes)).expect("a good recipe"), None);
    crate::session::until(&mut session, "its report", |s| {
        let found = s.report().map_or(&[][..], |r| &r.advisories);
        found.iter().any(|a| a.code == "not-applied")
    });
    session.report().expect("a report").advisories.clone()
}

#[test]
fn every_code_fires_beyond_its_limit_and_not_inside() {
    let pairs = pairs::all();
    let wrong: Vec<String> = pairs.iter().filter_map(wrong).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let paired: BTreeSet<&str> = pairs.iter().map(|p| p.code).collect();
    let explained: BTreeSet<&str> = EXPLAINED.iter().map(|(code, _)| *code).collect();
    assert_eq!(paired, explained, "each code has a pair of recipes");
}

#[test]
fn what_is_told_is_a_sentence_and_is_explained() {
    for pair in pairs::all() {
        let all = (pair.tells)(&pair.fires);
        assert!(
            all.windows(2).all(|w| w[0].level >= w[1].level),
            "the gravest first: {all:#?}"
        );
        for a in all {
            assert!(
                a.text.ends_with('.') && a.text.len() > 20 && !a.text.contains('\n'),
                "a sentence: {a:?}"
            );
            assert!(
                !a.text.contains("NaN") && !a.text.contains("inf "),
                "figures are finite: {a:?}"
            );
            let known = EXPLAINED.iter().find(|(code, _)| *code == a.code);
            assert_eq!(Some(a.explanation), known.map(|(_, text)| *text), "{a:?}");
        }
    }
}

/// Four words are read in a second (common practice, no source): ten seconds hold forty, and a word or two.
#[test]
fn explanations_are_short_and_each_code_has_one() {
    let mut seen = BTreeSet::new();
    for (code, text) in EXPLAINED {
        assert!(seen.insert(code), "{code} is explained once");
        let words = text.split_whitespace().count();
        assert!((8..=45).contains(&words), "{code}: {words} words");
        assert!(
            text.ends_with('.') && !text.contains("  ") && !text.contains('\n'),
            "{code}: {text}"
        );
    }
    for code in HAZARDS {
        assert!(seen.contains(&code), "{code} is a hazard and is explained");
    }
}

/// What stands as the first argument of every `Advisory::new` of some code; None where it is no literal.
fn emitted(tokens: TokenStream, into: &mut Vec<Option<String>>) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let is = |t: &TokenTree, word: &str| matches!(t, TokenTree::Ident(i) if i == word);
    for at in tokens.windows(5) {
        // Advisory : : new ( … )
        if let [a, _, _, n, TokenTree::Group(g)] = at
            && is(a, "Advisory")
            && is(n, "new")
        {
            let first = g.stream().into_iter().next();
            into.push(first.and_then(|t| match syn::parse2(t.into()) {
                Ok(syn::Lit::Str(s)) => Some(s.value()),
                _ => None,
            }));
        }
    }
    for token in tokens {
        if let TokenTree::Group(g) = token {
            emitted(g.stream(), into);
        }
    }
}

#[test]
fn every_code_that_the_source_emits_is_explained_and_none_else() {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).expect("the folder opens") {
            let path = entry.expect("an entry").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let code = std::fs::read_to_string(&path).expect("the file reads");
                emitted(code.parse().expect("the file parses"), &mut found);
            }
        }
    }
    let codes: BTreeSet<String> = found
        .into_iter()
        .map(|code| code.expect("a warning's code stands where it is made"))
        .collect();
    let explained: BTreeSet<String> = EXPLAINED.iter().map(|(c, _)| (*c).to_owned()).collect();
    assert_eq!(codes, explained);
    let mut planted = Vec::new();
    let code = "fn f() { vec![Advisory::new(\"a\", x)]; super::Advisory::new(code, y); }";
    emitted(code.parse().unwrap(), &mut planted);
    planted.sort();
    assert_eq!(planted, [None, Some("a".to_owned())], "macros are seen");
}
