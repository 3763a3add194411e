//! Who walks: a browser, and the desks that it looks at.

use crate::browser::gym::Gym;
use crate::browser::phone::Phone;
use crate::pages::{Record, Step, Visit};

/// A browser of one size with the desks of the invented squad and of nobody.
pub(crate) struct Walker {
    pub(crate) phone: Phone,
    squad: Gym,
    nobody: Gym,
}

impl Walker {
    pub(crate) async fn of_size(width: u32, height: u32) -> Walker {
        let phone = Phone::of_size(width, height).await;
        Walker { phone, squad: Gym::of_squad(), nobody: Gym::of_nobody() }
    }

    /// Goes to a page.
    pub(crate) async fn go(&self, visit: &Visit) {
        let gym = match visit.record {
            Record::Squad => &self.squad,
            Record::Nobody => &self.nobody,
        };
        for step in visit.way {
            self.step(gym, *step).await;
        }
        self.phone.until("document.readyState === 'complete'").await;
    }

    async fn step(&self, gym: &Gym, step: Step) {
        let phone = &self.phone;
        match step {
            Step::Open(path) => {
                phone.open(&format!("{}{path}", gym.address())).await;
            }
            Step::OpenAs(name, path) => {
                let address = gym.address().replace("127.0.0.1", name);
                phone.open(&format!("{address}{path}")).await;
            }
            Step::Press(selector) => {
                phone.until(&format!("document.querySelector({selector:?})")).await;
                phone.run(&format!("document.querySelector({selector:?}).click()")).await;
            }
            Step::Fill(selector, text) => {
                phone.until(&format!("document.querySelector({selector:?})")).await;
                let fill = format!(
                    "(() => {{ const field = document.querySelector({selector:?}); field.value = {text:?};
                      field.dispatchEvent(new Event('change', {{ bubbles: true }})); }})()"
                );
                phone.run(&fill).await;
            }
            Step::Sees(words) => phone.sees(words).await,
            Step::PressAway(selector) => {
                let press = format!(
                    "document.readyState === 'complete' && (() => {{
                        const one = document.querySelector({selector:?});
                        one?.click();
                        return !one;
                    }})()"
                );
                phone.until(&press).await;
            }
            // What was pressed just before the page was renewed is pressed again, but not while its answer is
            // on the way.
            Step::PressTill(selector, words) => {
                let press = format!(
                    "document.body.innerText.includes({words:?}) || (() => {{
                        const one = document.querySelector({selector:?});
                        if (!one || Date.now() - (window.pressed ?? 0) < 5000) return false;
                        window.pressed = Date.now();
                        one.click();
                    }})()"
                );
                phone.until(&press).await;
            }
        }
    }

    /// The requests since this was last asked that went to anybody but these desks.
    pub(crate) fn strange_requests(&self) -> Vec<String> {
        let port = |gym: &Gym| gym.address().rsplit(':').next().unwrap_or_default().to_owned();
        let ports = [port(&self.squad), port(&self.nobody)];
        let hosts = ["127.0.0.1", "desk.local", "elsewhere.example"];
        let is_own = |address: &str| {
            address.starts_with("data:")
                || hosts.iter().any(|host| {
                    ports.iter().any(|port| address.starts_with(&format!("http://{host}:{port}/")))
                })
        };
        self.phone.requests().into_iter().filter(|address| !is_own(address)).collect()
    }
}
