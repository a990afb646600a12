//! A window with nothing in it, by the same toolkit and with the same device: what `benches/start.py` holds the
//! program's own start against.

fn main() -> eframe::Result {
    struct Empty;
    impl eframe::App for Empty {
        fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
            let all = ui.max_rect();
            ui.painter()
                .rect_filled(all, 0.0, egui::Color32::from_rgb(200, 60, 20));
        }
    }
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("empty")
            .with_inner_size(egui::vec2(1280.0, 800.0)),
        ..eframe::NativeOptions::default()
    };
    eframe::run_native("empty", options, Box::new(|_| Ok(Box::new(Empty))))
}
