//! A token is good until its time is over, to the moment.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use proto::v1;
use proto::v1::catalog_service_client::CatalogServiceClient;
use runs::Clock;
use tonic::Code;

use crate::{add_token, show};
use tests::kit::service::{Service, Setup, reason};

/// A clock that is set by hand, in seconds.
#[derive(Default)]
struct Hand(AtomicI64);

impl Clock for Hand {
    fn now(&self) -> Timestamp {
        Timestamp::from_second(self.0.load(Ordering::SeqCst)).unwrap()
    }
}

#[tokio::test]
async fn a_token_ends_at_its_time() {
    let hand = Arc::new(Hand::default());
    let service = Service::start_with(Setup { clock: hand.clone(), ..Setup::default() }).await;
    let token = add_token(&service, "guest", 1, Some(Timestamp::from_second(1_000).unwrap())).await;
    let mut client = CatalogServiceClient::new(show(&service.channel, &token));
    for (now, good) in [(0, true), (999, true), (1_000, false), (2_000, false)] {
        hand.0.store(now, Ordering::SeqCst);
        match client.list_spots(v1::ListSpotsRequest::default()).await {
            Ok(_) => assert!(good, "answered at {now}"),
            Err(status) => {
                assert!(!good, "refused at {now}: {status:?}");
                assert_eq!((status.code(), reason(&status).as_str()), (Code::Unauthenticated, "EXPIRED_TOKEN"));
                assert!(
                    status.message().contains("'guest' was good until 1970-01-01T00:16:40Z"),
                    "{}",
                    status.message()
                );
            }
        }
    }
}

#[tokio::test]
async fn the_last_use_is_noted_to_the_minute() {
    let hand = Arc::new(Hand::default());
    let service = Service::start_with(Setup { clock: hand.clone(), ..Setup::default() }).await;
    let token = add_token(&service, "till", 1, None).await;
    let mut client = CatalogServiceClient::new(show(&service.channel, &token));
    for (now, noted) in [(100, 100), (130, 100), (161, 161)] {
        hand.0.store(now, Ordering::SeqCst);
        client.list_spots(v1::ListSpotsRequest::default()).await.unwrap();
        // It is written beside the call.
        let start = Instant::now();
        loop {
            let last = service.store.tokens().await.unwrap()[0].last_use_time.map(Timestamp::as_second);
            if last == Some(noted) {
                break;
            }
            assert!(start.elapsed() < Duration::from_secs(20), "at {now}: {last:?}, not {noted}");
            tokio::task::yield_now().await;
        }
    }
}
