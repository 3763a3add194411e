//! Serves the desk's pages with an invented squad, to look at them while working on their look:
//! `cargo run -p bellwether --example preview -- 8090`, then open http://127.0.0.1:8090/.

#[path = "../tests/desk/fixture.rs"]
mod fixture;

#[tokio::main]
async fn main() -> anyhow::Result<()> {
    let port: u16 = std::env::args().nth(1).as_deref().unwrap_or("8090").parse()?;
    let listener = tokio::net::TcpListener::bind(("127.0.0.1", port)).await?;
    let desk = std::sync::Arc::new(fixture::InventedDesk);
    axum::serve(listener, bellwether::web::router(desk)).await?;
    Ok(())
}
