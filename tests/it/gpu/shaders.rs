//! Every shader through wgpu's own front end and validator; every uniform's offsets against the struct's.

use foreglass::kernels::SHADERS;
use foreglass::kernels::shader::Shader;
use naga::valid::{Capabilities, ValidationFlags, Validator};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn parsed(shader: &Shader) -> naga::Module {
    let text = shader.text();
    let module = naga::front::wgsl::parse_str(&text);
    module.unwrap_or_else(|e| panic!("{}: {}", shader.name, e.emit_to_string(&text)))
}

/// No capability beyond what every device has is used.
#[test]
fn every_shader_is_valid() {
    for shader in SHADERS {
        let module = parsed(shader);
        let mut validator = Validator::new(ValidationFlags::all(), Capabilities::empty());
        let valid = validator.validate(&module);
        assert!(valid.is_ok(), "{}: {valid:?}", shader.name);
        assert!(!module.entry_points.is_empty(), "{} runs", shader.name);
    }
}

/// A file for each shader, a shader for each file, both named as the kernel is.
#[test]
fn shaders_have_their_kernels_names() {
    let stems: BTreeSet<String> = fs::read_dir(folder("shaders"))
        .expect("the folder")
        .map(|e| e.expect("an entry").path())
        .map(|p| p.file_stem().expect("a name").to_string_lossy().into())
        .collect();
    let names: BTreeSet<String> = SHADERS.iter().map(|s| s.name.to_owned()).collect();
    assert_eq!(stems, names, "the files of shaders/");
    for shader in SHADERS {
        let kernel = folder("src/kernels").join(format!("{}.rs", shader.name));
        assert!(kernel.is_file(), "{} has a kernel", shader.name);
        let file = folder("shaders").join(format!("{}.wgsl", shader.name));
        let text = fs::read_to_string(&file).expect("it reads");
        assert_eq!(text, shader.source, "{} is its file", shader.name);
    }
}

/// Names, order, offsets and sizes.
#[test]
fn uniforms_lie_alike_on_both_sides() {
    for shader in SHADERS {
        let module = parsed(shader);
        let mut seen = BTreeSet::new();
        for (_, variable) in module.global_variables.iter() {
            if variable.space != naga::AddressSpace::Uniform {
                continue;
            }
            let ty = &module.types[variable.ty];
            let naga::TypeInner::Struct { members, span } = &ty.inner else {
                panic!("{}: a uniform that is no struct", shader.name);
            };
            let name = ty.name.clone().expect("structs have names");
            let ours = shader.uniforms.iter().find(|l| l.name == name);
            let ours = ours.unwrap_or_else(|| panic!("{}: {name} is declared", shader.name));
            let theirs: Vec<(String, usize)> = members
                .iter()
                .map(|m| (m.name.clone().expect("a name"), m.offset as usize))
                .collect();
            let fields: Vec<(String, usize)> = ours
                .fields
                .iter()
                .map(|(n, o)| ((*n).to_owned(), *o))
                .collect();
            assert_eq!(fields, theirs, "{}: {name}", shader.name);
            assert_eq!(ours.size, *span as usize, "{}: size of {name}", shader.name);
            seen.insert(name);
        }
        let declared: BTreeSet<String> =
            shader.uniforms.iter().map(|l| l.name.to_owned()).collect();
        assert_eq!(seen, declared, "{}: uniforms in use", shader.name);
    }
}
