//! A car's file with rules of its own: conditions, limits, what its class book asks for.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::garage::Car;
use slipbook::schema::Expr;

fuzz_target!(|text: &str| {
    if let Ok(expr) = Expr::parse(text) {
        assert!(expr.names().len() <= text.len());
    }
    let _ = Car::read("car.toml", text);
});
