//! Peers, names, forwarding headers, forms from elsewhere, and what those read who are turned away.

use crate::desk::{FROM_HERE, HERE, LAN, NETWORK, OWN, TheDesk};

#[tokio::test]
async fn a_desk_that_nobody_else_can_reach_is_open_to_its_user_at_this_machine() {
    for is_own_user in [Some(true), None] {
        let desk = TheDesk::open_here(is_own_user);
        for peer in [HERE, "127.4.5.6:50000", "[::1]:50000", "[::ffff:127.0.0.1]:50000"] {
            for host in [
                "127.0.0.1:8734",
                "localhost:8734",
                "LocalHost:8734",
                "[::1]:8734",
                "[::ffff:127.0.0.1]:8734",
            ] {
                assert_eq!(desk.get(peer, "/", &[("host", host)]).await, 200, "{peer} {host}");
            }
        }
    }
}

#[tokio::test]
async fn an_address_in_numbers_is_not_this_machine_unless_it_is_a_loopback_one() {
    let desk = TheDesk::open_here(Some(true));
    for host in
        ["192.168.1.5", "10.0.0.1", "0.0.0.0", "8.8.8.8", "[::]", "[fe80::1]", "[::ffff:10.0.0.1]"]
    {
        let host = format!("{host}:8734");
        assert_eq!(desk.get(HERE, "/", &[("host", &host)]).await, 403, "{host}");
    }
    for host in ["desk:8734", "desk.local:8734"] {
        assert_eq!(desk.get(HERE, "/", &[("host", host)]).await, 403, "{host}");
    }
}

#[tokio::test]
async fn no_other_machine_is_taken_for_this_one() {
    let desk = TheDesk::open_here(Some(true));
    for peer in
        [NETWORK, "8.8.8.8:50000", "[2001:db8::1]:50000", "[::ffff:192.168.1.20]:50000", "nobody"]
    {
        for host in ["localhost:8734", "127.0.0.1:8734", "192.168.1.5:8734"] {
            assert_eq!(desk.get(peer, "/", &[("host", host)]).await, 403, "{peer} {host}");
        }
    }
}

#[tokio::test]
async fn a_tunnel_from_another_port_is_not_this_machine() {
    let desk = TheDesk::open_here(Some(true));
    for host in ["localhost", "localhost:80", "127.0.0.1:9000", "[::1]:8735"] {
        assert_eq!(desk.get(HERE, "/", &[("host", host)]).await, 403, "{host}");
    }
}

#[tokio::test]
async fn a_proxy_that_says_so_is_not_this_machine() {
    let desk = TheDesk::open_here(Some(true));
    for header in [
        "forwarded",
        "x-forwarded-for",
        "x-forwarded-host",
        "x-forwarded-proto",
        "x-forwarded-port",
        "x-forwarded-server",
        "x-real-ip",
        "via",
        "X-Forwarded-For",
    ] {
        assert_eq!(desk.get(HERE, "/", &[OWN, (header, "192.168.1.20")]).await, 403, "{header}");
    }
}

#[tokio::test]
async fn another_user_of_this_machine_is_asked_for_the_key() {
    let desk = TheDesk::open_here(Some(false));
    assert_eq!(desk.get(HERE, "/", &[OWN]).await, 403);
    // Not even by posing as a page of the desk.
    let answer = desk.ask(HERE, ("POST", "/"), &[OWN, FROM_HERE], "").await;
    assert_eq!(answer.status, 403);
    assert_eq!(desk.get(HERE, "/floor/token", &[OWN]).await, 200);
}

#[tokio::test]
async fn with_an_address_or_on_a_network_the_key_is_asked_for_whatever_the_headers_say() {
    for address in [None, Some("https://gym.example"), Some("http://192.168.1.5:8734")] {
        let desk = TheDesk::by_key(address);
        for peer in [HERE, "[::1]:50000", "[::ffff:127.0.0.1]:50000", NETWORK] {
            for host in
                ["127.0.0.1:8734", "localhost:8734", "localhost", "[::1]:8734", "192.168.1.5:8734"]
            {
                for path in ["/", "/browsers", "/import", "/lifter/Wilma%20Tarn"] {
                    let status = desk.get(peer, path, &[("host", host)]).await;
                    assert_eq!(status, 403, "{address:?} {peer} {host} {path}");
                    let form =
                        desk.ask(peer, ("POST", path), &[("host", host), FROM_HERE], "").await;
                    assert_eq!(form.status, 403, "{address:?} {peer} {host} {path}");
                }
            }
        }
        assert_eq!(desk.get(NETWORK, "/floor/token", &[LAN]).await, 200);
        assert_eq!(desk.get(NETWORK, "/calendar/token", &[LAN]).await, 200);
        assert_eq!(desk.get(NETWORK, "/assets/desk.css", &[LAN]).await, 200);
        assert_eq!(desk.get(NETWORK, "/coach", &[LAN]).await, 200);
        // What only begins like an open path isn't one.
        for path in ["/floor", "/calendar", "/floors/token", "/coaches", "/assets"] {
            assert_eq!(desk.get(NETWORK, path, &[LAN]).await, 403, "{path}");
        }
    }
}

#[tokio::test]
async fn no_name_of_somebody_elses_leads_here() {
    for desk in [TheDesk::open_here(Some(true)), TheDesk::by_key(Some("https://gym.example"))] {
        for host in [
            "elsewhere.example:8734",
            "elsewhere.example",
            "127.0.0.1.elsewhere.example",
            "localhost.example",
            "gym.example.evil",
            "gym.example:8734",
            "",
            "127.0.0.1:8734@elsewhere.example",
            "a b",
            "[::1",
            "a:b",
        ] {
            for path in ["/", "/floor/token", "/calendar/token", "/coach"] {
                assert_eq!(desk.get(HERE, path, &[("host", host)]).await, 421, "{host} {path}");
            }
            let form = desk.ask(HERE, ("POST", "/assets/desk.css"), &[("host", host)], "").await;
            assert_eq!(form.status, 421);
            // Whoever is turned away reads it on a page with its style.
            assert_eq!(desk.get(HERE, "/assets/desk.css", &[("host", host)]).await, 200);
        }
        assert_eq!(desk.get(HERE, "/", &[]).await, 421, "without a name");
        assert_eq!(
            desk.get(HERE, "/", &[OWN, ("host", "elsewhere.example")]).await,
            421,
            "with two"
        );
        // A whole address in the first line counts more than the header (RFC 9112, 3.2.2).
        assert_eq!(desk.get(HERE, "http://elsewhere.example/", &[OWN]).await, 421);
    }
    let desk = TheDesk::by_key(Some("https://gym.example"));
    for host in ["gym.example", "GYM.example", "gym.example:443", "desk.local:8734", "desk:8734"] {
        assert_eq!(desk.get(NETWORK, "/floor/token", &[("host", host)]).await, 200, "{host}");
    }
}

/// The status that a form gets that was sent so.
async fn form(desk: &TheDesk, peer: &str, path: &str, headers: &[(&str, &str)]) -> u16 {
    desk.ask(peer, ("POST", path), headers, "").await.status.as_u16()
}

#[tokio::test]
async fn other_sites_can_send_nothing() {
    let desk = TheDesk::open_here(Some(true));
    let own = ("origin", "http://127.0.0.1:8734");
    assert_eq!(form(&desk, HERE, "/", &[OWN, own]).await, 200);
    assert_eq!(form(&desk, HERE, "/", &[OWN, FROM_HERE]).await, 200);
    assert_eq!(form(&desk, HERE, "/", &[OWN, FROM_HERE, own]).await, 200);
    assert_eq!(form(&desk, HERE, "/", &[OWN, FROM_HERE, ("origin", "null")]).await, 200);
    for origin in [
        "http://elsewhere.example",
        "http://127.0.0.1:9999",
        "http://127.0.0.1",
        "https://127.0.0.1",
        "http://localhost:8734",
        "null",
        "",
        "127.0.0.1:8734",
        "http://127.0.0.1:8734.elsewhere.example",
    ] {
        assert_eq!(form(&desk, HERE, "/", &[OWN, ("origin", origin)]).await, 403, "{origin}");
    }
    assert_eq!(form(&desk, HERE, "/", &[OWN]).await, 403);
    for site in ["cross-site", "same-site", "none", "Same-Origin", ""] {
        assert_eq!(
            form(&desk, HERE, "/", &[OWN, ("sec-fetch-site", site), own]).await,
            403,
            "{site}"
        );
    }
    // A proxy that doesn't hand on the name: what the browser says gives it away.
    let elsewhere = ("origin", "https://gym.example");
    assert_eq!(form(&desk, HERE, "/", &[OWN, FROM_HERE, elsewhere]).await, 403);
    // The same for phones, for the key, and for every other verb.
    let foreign = [LAN, ("origin", "http://elsewhere.example")];
    for path in ["/floor/token", "/coach", "/coach/link", "/browsers/key"] {
        assert_eq!(form(&desk, NETWORK, path, &foreign).await, 403, "{path}");
    }
    for method in ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "ANYTHING"] {
        let answer = desk.ask(HERE, (method, "/"), &[OWN], "").await;
        assert_eq!(answer.status, 403, "{method}");
    }
}

#[tokio::test]
async fn a_form_may_come_from_the_address_that_was_given_though_a_proxy_calls_the_desk_otherwise() {
    let desk = TheDesk::by_key(Some("https://gym.example"));
    let given = ("origin", "https://gym.example");
    assert_eq!(form(&desk, HERE, "/floor/token", &[OWN, FROM_HERE, given]).await, 200);
    assert_eq!(form(&desk, HERE, "/floor/token", &[OWN, given]).await, 200);
    assert_eq!(form(&desk, HERE, "/floor/token", &[("host", "gym.example"), given]).await, 200);
    for other in ["https://gym.example:444", "http://gym.example", "https://xgym.example"] {
        let headers = [OWN, FROM_HERE, ("origin", other)];
        assert_eq!(form(&desk, HERE, "/floor/token", &headers).await, 403, "{other}");
    }
}

#[tokio::test]
async fn those_who_are_not_let_in_see_the_same_whatever_they_ask_for() {
    let desk = TheDesk::by_key(None);
    let first = desk.ask(NETWORK, ("GET", "/"), &[LAN], "").await;
    assert_eq!(first.status, 403);
    for (method, path) in [
        ("GET", "/no/such/page"),
        ("GET", "/lifter/Wilma%20Tarn"),
        ("GET", "/browsers"),
        ("PUT", "/"),
        ("POST", "/browsers/key"),
        ("POST", "/no/such/page"),
        ("DELETE", "/lifter/Wilma%20Tarn"),
    ] {
        let answer = desk.ask(NETWORK, (method, path), &[LAN, FROM_HERE], "").await;
        assert_eq!((answer.status, &answer.text), (first.status, &first.text), "{method} {path}");
        assert_eq!(answer.header("allow"), "", "{method} {path}");
    }
}

#[tokio::test]
async fn options_says_the_same_of_every_address_and_allows_no_other_site_anything() {
    let desk = TheDesk::by_key(None);
    for path in
        ["/", "/no/such/page", "/floor/token", "/floor/wrong", "/browsers/key", "/coach/link"]
    {
        let headers = [
            LAN,
            ("origin", "http://elsewhere.example"),
            ("access-control-request-method", "POST"),
        ];
        let answer = desk.ask(NETWORK, ("OPTIONS", path), &headers, "").await;
        assert_eq!((answer.status.as_u16(), answer.text.as_str()), (204, ""), "{path}");
        assert_eq!(answer.header("allow"), "GET, HEAD, OPTIONS, POST");
        assert!(!answer.headers.keys().any(|name| name.as_str().starts_with("access-control")));
    }
    let answer = desk.ask(NETWORK, ("OPTIONS", "/"), &[("host", "elsewhere.example")], "").await;
    assert_eq!(answer.status, 421);
}

#[tokio::test]
async fn the_doors_own_pages_carry_the_headers_that_pages_carry() {
    let desk = TheDesk::by_key(None);
    let link = desk.door.one_time_link(jiff::SignedDuration::from_mins(1)).unwrap();
    let elsewhere = ("host", "elsewhere.example");
    for (request, headers, status) in [
        (("GET", "/"), vec![LAN], 403),
        (("GET", "/"), vec![elsewhere], 421),
        (("POST", "/"), vec![LAN], 403),
        (("GET", "/coach"), vec![LAN], 200),
        (("PUT", "/coach"), vec![LAN, FROM_HERE], 405),
        (("GET", link.as_str()), vec![LAN], 200),
        (("GET", "/coach/wrong"), vec![LAN], 403),
        (("POST", "/coach"), vec![LAN, FROM_HERE], 403),
        (("POST", link.as_str()), vec![LAN, FROM_HERE], 303),
        (("OPTIONS", "/"), vec![LAN], 204),
        (("GET", "/floor/wrong"), vec![LAN], 404),
    ] {
        let answer = desk.ask(NETWORK, request, &headers, "key=wrong").await;
        assert_eq!(answer.status, status, "{request:?}");
        let policy = answer.header("content-security-policy");
        for rule in [
            "default-src 'none'",
            "form-action 'self'",
            "base-uri 'none'",
            "frame-ancestors 'none'",
        ] {
            assert!(policy.contains(rule), "{request:?}: {policy}");
        }
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{request:?}");
        assert_eq!(answer.header("referrer-policy"), "same-origin", "{request:?}");
        assert_eq!(answer.header("cross-origin-opener-policy"), "same-origin", "{request:?}");
        assert_eq!(answer.header("cross-origin-resource-policy"), "same-origin", "{request:?}");
        assert_eq!(answer.header("cache-control"), "no-store", "{request:?}");
    }
}

#[tokio::test]
async fn those_who_are_turned_away_read_why_and_find_where_to_type_the_key() {
    let desk = TheDesk::by_key(None);
    let answer = desk.ask(NETWORK, ("GET", "/"), &[LAN], "").await;
    assert!(answer.text.contains("These are the coach's pages"), "{}", answer.text);
    assert!(
        answer.text.contains("action=\"/coach\"") && !answer.text.contains("try again from here")
    );
    let led = [LAN, ("sec-fetch-site", "cross-site")];
    let answer = desk.ask(NETWORK, ("GET", "/"), &led, "").await;
    assert!(answer.text.contains("try again from here"), "{}", answer.text);
    let dark = [LAN, ("cookie", "theme=dark")];
    let answer = desk.ask(NETWORK, ("GET", "/"), &dark, "").await;
    assert!(answer.text.contains("data-theme=\"dark\""), "{}", answer.text);
}
