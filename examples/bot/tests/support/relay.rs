//! The wire between two servers, which a test can cut and mend.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use tokio::net::{TcpListener, TcpStream};
use tokio::sync::broadcast;

pub struct Relay {
    pub port: u16,
    cut: Arc<AtomicBool>,
    drop_all: broadcast::Sender<()>,
}

impl Relay {
    pub async fn to(port: u16) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let own = listener.local_addr().expect("an address").port();
        let cut = Arc::new(AtomicBool::new(false));
        let (drop_all, _) = broadcast::channel(1);
        let (is_cut, drops) = (Arc::clone(&cut), drop_all.clone());
        tokio::spawn(async move {
            while let Ok((mut near, _)) = listener.accept().await {
                if is_cut.load(Ordering::SeqCst) {
                    continue;
                }
                let mut dropped = drops.subscribe();
                tokio::spawn(async move {
                    let mut far = TcpStream::connect(("127.0.0.1", port)).await.expect("the other server");
                    tokio::select! {
                        _ = tokio::io::copy_bidirectional(&mut near, &mut far) => {}
                        _ = dropped.recv() => {}
                    }
                });
            }
        });
        Self { port: own, cut, drop_all }
    }

    /// Drops what is connected and refuses what comes.
    pub fn cut(&self) {
        self.cut.store(true, Ordering::SeqCst);
        // Nobody listens where nothing is connected.
        let _ = self.drop_all.send(());
    }

    pub fn mend(&self) {
        self.cut.store(false, Ordering::SeqCst);
    }
}
