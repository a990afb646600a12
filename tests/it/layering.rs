//! The house: a module imports only what stands above it in `src/lib.rs`, the executors never see each
//! other, the two faces never see each other, and a family's key stands in its own file alone.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use syn::visit::{self, Visit};

/// Groups of modules that never see each other.
const APART: [&[&str]; 2] = [&["cpu", "gpu", "reference"], &["app", "cli"]];

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

/// Modules in the order of `lib.rs`.
fn order(lib: &str) -> Vec<String> {
    let file = syn::parse_file(lib).expect("lib.rs parses");
    let modules = file.items.into_iter().filter_map(|item| match item {
        syn::Item::Mod(m) => Some(m.ident.to_string()),
        _ => None,
    });
    modules.collect()
}

/// Every path of a file that starts at `crate`, `self` or `super`, as the top module it leads to.
struct Paths {
    /// Where the visitor stands, from the crate's root.
    here: Vec<String>,
    seen: BTreeSet<String>,
}

impl Paths {
    fn note(&mut self, segments: &[String]) {
        let mut at: Vec<String> = match segments.first().map(String::as_str) {
            Some("crate") => Vec::new(),
            Some("self" | "super") => self.here.clone(),
            _ => return,
        };
        for s in segments {
            match s.as_str() {
                "crate" | "self" => {}
                "super" => {
                    at.pop();
                }
                name => at.push(name.to_owned()),
            }
        }
        self.seen.extend(at.into_iter().next());
    }

    fn tree(&mut self, before: &[String], tree: &syn::UseTree) {
        let with = |name: &syn::Ident| [before, &[name.to_string()]].concat();
        match tree {
            syn::UseTree::Path(p) => self.tree(&with(&p.ident), &p.tree),
            syn::UseTree::Name(n) => self.note(&with(&n.ident)),
            syn::UseTree::Rename(r) => self.note(&with(&r.ident)),
            syn::UseTree::Glob(_) => self.note(before),
            syn::UseTree::Group(g) => g.items.iter().for_each(|t| self.tree(before, t)),
        }
    }

    /// Paths inside a macro's tokens, which syn does not parse.
    fn tokens(&mut self, tokens: proc_macro2::TokenStream) {
        use proc_macro2::TokenTree;
        let mut run: Vec<String> = Vec::new();
        for token in tokens {
            match token {
                TokenTree::Ident(i) => run.push(i.to_string()),
                TokenTree::Punct(p) if p.as_char() == ':' => {}
                TokenTree::Group(g) => {
                    self.note(&run);
                    run.clear();
                    self.tokens(g.stream());
                }
                _ => {
                    self.note(&run);
                    run.clear();
                }
            }
        }
        self.note(&run);
    }
}

impl<'a> Visit<'a> for Paths {
    fn visit_item_use(&mut self, item: &'a syn::ItemUse) {
        self.tree(&[], &item.tree);
    }

    fn visit_path(&mut self, path: &'a syn::Path) {
        let segments: Vec<_> = path.segments.iter().map(|s| s.ident.to_string()).collect();
        self.note(&segments);
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'a syn::Macro) {
        self.tokens(mac.tokens.clone());
        visit::visit_macro(self, mac);
    }

    fn visit_item_mod(&mut self, item: &'a syn::ItemMod) {
        self.here.push(item.ident.to_string());
        visit::visit_item_mod(self, item);
        self.here.pop();
    }
}

/// What a file in module path `here` imports that it may not.
fn violations(order: &[String], here: &[String], code: &str) -> Vec<String> {
    let file = syn::parse_file(code).expect("the file parses");
    let mut paths = Paths {
        here: here.to_vec(),
        seen: BTreeSet::new(),
    };
    paths.visit_file(&file);
    let own = &here[0];
    let place = |name: &str| order.iter().position(|m| m == name);
    let mine = place(own).expect("a module of lib.rs");
    let apart = |a: &str, b: &str| APART.iter().any(|g| g.contains(&a) && g.contains(&b));
    let bad = paths
        .seen
        .iter()
        .filter(|name| *name != own && place(name).is_some_and(|p| p > mine || apart(own, name)));
    bad.map(|name| format!("{} imports {name}", here.join("::")))
        .collect()
}

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("the folder opens") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// Module path of a file: `src/rig/size.rs` is `rig::size`, `src/rig/mod.rs` is rig.
fn module_of(path: &Path) -> Vec<String> {
    let relative = path
        .strip_prefix(source())
        .expect("under src")
        .with_extension("");
    let parts = relative.iter().map(|p| p.to_string_lossy().into_owned());
    parts.filter(|p| p != "mod").collect()
}

fn house() -> Vec<(Vec<String>, PathBuf, String)> {
    let mut all = Vec::new();
    files(&source(), &mut all);
    all.retain(|p| !["lib.rs", "main.rs"].iter().any(|n| p == &source().join(n)));
    all.into_iter()
        .map(|p| {
            (
                module_of(&p),
                p.clone(),
                fs::read_to_string(&p).expect("the file reads"),
            )
        })
        .collect()
}

#[test]
fn modules_import_only_what_stands_above_them() {
    let lib = fs::read_to_string(source().join("lib.rs")).expect("lib.rs reads");
    let order = order(&lib);
    assert!(order.len() >= 17, "the list of lib.rs is read: {order:?}");
    let house = house();
    assert!(
        house.len() > 40,
        "the house is walked: {} files",
        house.len()
    );
    let bad: Vec<String> = house
        .iter()
        .flat_map(|(here, _, code)| violations(&order, here, code))
        .collect();
    assert!(bad.is_empty(), "{bad:#?}");
}

#[test]
fn planted_violations_are_found() {
    let order: Vec<String> = ["units", "rig", "plan", "cpu", "reference", "app", "cli"]
        .map(str::to_owned)
        .to_vec();
    let at = |here: &[&str], code: &str| {
        let here: Vec<String> = here.iter().map(|s| (*s).to_owned()).collect();
        violations(&order, &here, code)
    };
    let planted: [(&[&str], &str); 9] = [
        (&["rig"], "use crate::plan::Plan;"),
        (&["rig", "size"], "use super::super::cpu;"),
        (&["rig"], "fn f() { let _ = crate::cpu::execute; }"),
        (&["rig"], "fn f(x: super::plan::Plan) {}"),
        (
            &["cpu"],
            "mod inner { use crate::{units, reference::scatter}; }",
        ),
        (&["reference"], "use crate::cpu;"),
        (&["cli"], "use crate::app as window;"),
        (&["rig"], "fn f() { println!(\"{}\", crate::plan::N); }"),
        (
            &["rig"],
            "mod a { mod b { use super::super::super::plan; } }",
        ),
    ];
    for (here, code) in planted {
        assert_eq!(at(here, code).len(), 1, "planted in {here:?}: {code}");
    }
    let innocent: [(&[&str], &str); 4] = [
        (&["plan"], "use crate::rig::Setup; use super::units::Stops;"),
        (
            &["rig", "size"],
            "use super::Setup; use crate::rig::camera;",
        ),
        (&["cpu"], "use std::fmt; mod a { use super::execute; }"),
        (&["plan"], "fn f() { self::g(); }"),
    ];
    for (here, code) in innocent {
        assert_eq!(
            at(here, code),
            Vec::<String>::new(),
            "innocent in {here:?}: {code}"
        );
    }
}

/// String literals of a file, doc comments left out, macros' tokens taken in.
struct Words(Vec<String>);

impl<'a> Visit<'a> for Words {
    fn visit_attribute(&mut self, _: &'a syn::Attribute) {}

    fn visit_lit_str(&mut self, lit: &'a syn::LitStr) {
        self.0.push(lit.value());
    }

    fn visit_macro(&mut self, mac: &'a syn::Macro) {
        self.tokens(mac.tokens.clone());
    }
}

impl Words {
    fn tokens(&mut self, tokens: proc_macro2::TokenStream) {
        for token in tokens {
            match token {
                proc_macro2::TokenTree::Group(g) => self.tokens(g.stream()),
                proc_macro2::TokenTree::Literal(l) => {
                    let lit = syn::Lit::new(l);
                    if let syn::Lit::Str(s) = lit {
                        self.0.push(s.value());
                    }
                }
                _ => {}
            }
        }
    }

    fn of(code: &str) -> Vec<String> {
        let mut words = Self(Vec::new());
        words.visit_file(&syn::parse_file(code).expect("the file parses"));
        words.0
    }
}

#[test]
fn a_familys_key_stands_in_its_own_file_alone() {
    let keys: BTreeSet<&str> = foreglass::glass::FAMILIES.iter().map(|f| f.key).collect();
    let mut found = BTreeSet::new();
    for (here, path, code) in house() {
        for word in Words::of(&code) {
            if let Some(key) = keys.get(word.as_str()) {
                let own = ["glass".to_owned(), key.replace('-', "_")];
                assert!(here == own, "\"{key}\" in {}", path.display());
                found.insert(*key);
            }
        }
    }
    assert_eq!(found, keys, "each key is found in its own file");
    let planted = Words::of("fn f() { g(\"nd\"); assert!(x == \"balance\"); }");
    assert_eq!(
        planted,
        ["nd", "balance"],
        "words in code and in macros are seen"
    );
}
