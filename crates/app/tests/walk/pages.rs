//! Every page there is, as a list: how one gets there, and by which route it is served. A route that no page
//! of the list stands for fails a test, so that a new page can't be left out.

/// One page in one state.
pub(crate) struct Visit {
    /// Its name, which is also that of its picture.
    pub(crate) name: &'static str,
    /// The route that serves it, as the router has it.
    pub(crate) route: &'static str,
    /// Who is on record.
    pub(crate) record: Record,
    /// The way there.
    pub(crate) way: &'static [Step],
}

/// Whose desk a page is looked at on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Record {
    /// That of the invented squad.
    Squad,
    /// Nobody's.
    Nobody,
}

/// One step on the way to a page.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Step {
    /// Opens an address of the desk.
    Open(&'static str),
    /// Opens an address of the desk by another name of this machine.
    OpenAs(&'static str, &'static str),
    /// Presses a link or a button, found by a CSS selector.
    Press(&'static str),
    /// Fills a field, found by a CSS selector.
    Fill(&'static str, &'static str),
    /// Waits until the page says something.
    Sees(&'static str),
    /// Presses a link or a button of a page that renews itself, until it says something.
    PressTill(&'static str, &'static str),
    /// Presses a link as long as there is one.
    PressAway(&'static str),
}

use Record::{Nobody, Squad};
use Step::{Fill, Open, OpenAs, Press, PressAway, PressTill, Sees};

/// Routes without a page of their own, each with the reason.
pub(crate) const NO_PAGE: &[(&str, &str)] = &[
    ("/assets/{file}", "a style sheet"),
    ("/floor/app/{version}/{file}", "a module or a style sheet"),
    ("/floor/sw.js", "the worker"),
    ("/floor/{token}/day.json", "data"),
    ("/floor/{token}/messages", "data"),
    ("/lifter/{name}/card.json", "data"),
    ("/lifter/{name}/card.pdf", "sheets of paper"),
    ("/calendar/{token}", "a calendar"),
    ("/lifter/{name}/calendar/{id}/revoke", "leads back to the programme's page"),
    ("/lifter/{name}/programme/copy", "leads back to the programme's page"),
    ("/lifter/{name}/programme/withdraw", "leads back to the programme's page"),
    ("/lifter/{name}/programme/changes/{id}/withdraw", "leads back to the page of changes"),
    ("/lifter/{name}/links/{id}/revoke", "leads back to the lifter's page"),
    ("/browsers/{id}/end", "leads back to the page of browsers"),
    ("/browsers/end-others", "leads back to the page of browsers"),
];

/// What a set or a check-in looks like in a table with lines that can't be taken.
const TABLE: &str = "lifter,date,lift,load,unit,reps,rir\n\
    Maren Tidewell,2024-01-08,back squat,80,kg,5,2\n\
    Maren Tidewell,2024-01-08,back squat,heavy,kg,5,2\n\
    Maren Tidewell,2024-01-08,back squat,80,kg,500,2\n\
    Fenna Loosdrecht,2024-01-08,glue squat,60,kg,5,2\n";

const LIFT: &str = "/lifter/Maren%20Tidewell/lift/back%20squat";

/// A programme of one day, for whoever has none.
const ONE_DAY: &str = "name = 'By the quay'\n[[day]]\nweekday = 'Mon'\nminutes = 45\n[[day.lift]]\n\
    lift = 'back squat'\nsets = 4\nreps = [5, 8]\nprogression = { rule = 'double progression' }\n\
    [[day.lift]]\nlift = 'bench press'\nsets = 3\nreps = 5\nprogression = { rule = 'load steps' }\n";

const PROGRAMME: &str = "/lifter/Odd%20Fennimar/programme";
const CHANGES: &str = "/lifter/Odd%20Fennimar/programme/changes";

const WISHES: &str = "/lifter/Maren%20Tidewell/programme/draft";

const MAKE_LINK: &str = "form[action$='/links'] button";
const REVOKE: &str = "form[action$='/revoke'] button";
const THE_LINK: &str = ".link-text a";
const LINK_FOR_A_BROWSER: &str = "form[action='/browsers/link'] button";
const LOG: &str = "[data-key=log]";
const REACHED: Step = Sees("the desk is reached");
const ALL_THERE: Step = Sees("Everything logged has reached the desk");

/// All pages.
pub(crate) const PAGES: &[Visit] = &[
    Visit { name: "nobody-yet", route: "/", record: Nobody, way: &[Open("/")] },
    Visit {
        name: "squad",
        route: "/",
        record: Squad,
        way: &[Open("/"), PressAway("p.warning[role=status] a")],
    },
    Visit { name: "look", route: "/look", record: Squad, way: &[Open("/look")] },
    Visit {
        name: "lifter",
        route: "/lifter/{name}",
        record: Squad,
        way: &[Open("/lifter/Maren%20Tidewell")],
    },
    Visit {
        name: "lifter-in-pounds",
        route: "/lifter/{name}",
        record: Squad,
        way: &[Open("/lifter/Tobias%20Wrenfold")],
    },
    Visit {
        name: "lifter-new",
        route: "/lifter/{name}",
        record: Nobody,
        way: &[
            Open("/new-lifter"),
            Fill("[name=name]", "Hedda Brokk"),
            Press("main button[type=submit]"),
            Sees("The lifter is on record"),
        ],
    },
    Visit {
        name: "joints",
        route: "/lifter/{name}/joints",
        record: Squad,
        way: &[Open("/lifter/Greta%20Thornsay/joints")],
    },
    Visit {
        name: "joints-none",
        route: "/lifter/{name}/joints",
        record: Nobody,
        way: &[
            Open("/new-lifter"),
            Fill("[name=name]", "Ivo Marsk"),
            Press("main button[type=submit]"),
            Sees("The lifter is on record"),
            Open("/lifter/Ivo%20Marsk/joints"),
        ],
    },
    Visit {
        name: "dose",
        route: "/lifter/{name}/dose",
        record: Squad,
        way: &[Open("/lifter/Maren%20Tidewell/dose")],
    },
    Visit {
        name: "dose-none",
        route: "/lifter/{name}/dose",
        record: Nobody,
        way: &[
            Open("/new-lifter"),
            Fill("[name=name]", "Runa Ost"),
            Press("main button[type=submit]"),
            Sees("The lifter is on record"),
            Open("/lifter/Runa%20Ost/dose"),
        ],
    },
    Visit { name: "lift", route: "/lifter/{name}/lift/{lift}", record: Squad, way: &[Open(LIFT)] },
    Visit {
        name: "lift-costs-tried",
        route: "/lifter/{name}/lift/{lift}",
        record: Squad,
        way: &[
            Open(LIFT),
            Fill("[name=trained_through]", "8"),
            Press(".costs form[method=get] button"),
            Sees("Tried"),
        ],
    },
    Visit {
        name: "lift-costs-wrong",
        route: "/lifter/{name}/lift/{lift}",
        record: Squad,
        way: &[
            Open(LIFT),
            Fill("[name=trained_through]", "a lot"),
            Press(".costs form[method=get] button"),
            Sees("Nothing was changed"),
        ],
    },
    Visit {
        name: "set",
        route: "/lifter/{name}/set/{id}",
        record: Squad,
        way: &[Open(LIFT), Press(".sets a[href*='/set/']"), Sees("Correct it")],
    },
    Visit {
        name: "set-wrong",
        route: "/lifter/{name}/set/{id}",
        record: Squad,
        way: &[
            Open(LIFT),
            Press(".sets a[href*='/set/']"),
            Sees("Correct it"),
            Fill("[name=load]", "-5"),
            Fill("[name=reps]", "many"),
            Press(".correct button"),
            Sees("Nothing was changed"),
        ],
    },
    Visit {
        name: "lift-amended",
        route: "/lifter/{name}/set/{id}/withdraw",
        record: Squad,
        way: &[
            Open(LIFT),
            Press(".sets a[href*='/set/']"),
            Sees("Withdraw it"),
            Fill(".withdraw [name=withdraw_reason]", "logged twice"),
            Press(".withdraw button"),
            Sees("The set was withdrawn"),
        ],
    },
    Visit {
        name: "card",
        route: "/lifter/{name}/card",
        record: Squad,
        way: &[Open("/lifter/Maren%20Tidewell/card")],
    },
    Visit {
        name: "programme-none",
        route: "/lifter/{name}/programme",
        record: Squad,
        way: &[Open("/lifter/Maren%20Tidewell/programme")],
    },
    Visit {
        name: "calendar-link",
        route: "/lifter/{name}/calendar",
        record: Squad,
        way: &[
            Open("/lifter/Maren%20Tidewell/programme"),
            Press("form[action$='/calendar'] button"),
            Sees("Shown only now"),
        ],
    },
    Visit {
        name: "programme-form",
        route: "/lifter/{name}/programme/edit",
        record: Squad,
        way: &[
            Open("/lifter/Maren%20Tidewell/programme/edit"),
            Fill("#field-name", "By the quay"),
            Fill("#field-d1_l1_lift", "back squat"),
            Fill("#field-d1_l1_sets", "3"),
            Fill("#field-d1_l1_reps", "5-8"),
            Press("button[value=check]"),
            Sees("What a coach would remark"),
        ],
    },
    Visit {
        name: "programme-form-refused",
        route: "/lifter/{name}/programme/edit",
        record: Squad,
        way: &[
            Open("/lifter/Maren%20Tidewell/programme/edit"),
            Fill("#field-d1_l1_lift", "bakc squat"),
            Press("button[value=keep]"),
            Sees("Nothing was kept"),
        ],
    },
    Visit {
        name: "programme",
        route: "/lifter/{name}/programme",
        record: Squad,
        way: &[
            Open(PROGRAMME),
            Press("#as-a-file > summary"),
            Fill("#field-text", ONE_DAY),
            Press("form[action$='/file'] button"),
            Sees("The programme is kept"),
        ],
    },
    Visit {
        name: "plan-changes",
        route: "/lifter/{name}/programme/changes",
        record: Squad,
        way: &[
            Open(PROGRAMME),
            Press("#as-a-file > summary"),
            Fill("#field-text", ONE_DAY),
            Press("form[action$='/file'] button"),
            Sees("The programme is kept"),
            Open(CHANGES),
            Press("#field-muscle_chest"),
            Press("section[aria-labelledby=light] button"),
            Sees("The plan is changed"),
        ],
    },
    Visit {
        name: "plan-changes-refused",
        route: "/lifter/{name}/programme/changes",
        record: Squad,
        way: &[
            Open(PROGRAMME),
            Press("#as-a-file > summary"),
            Fill("#field-text", ONE_DAY),
            Press("form[action$='/file'] button"),
            Sees("The programme is kept"),
            Open(CHANGES),
            Fill("#field-move_to", "2001-01-01"),
            Press("section[aria-labelledby=move] button"),
            Sees("lies in another week"),
        ],
    },
    Visit {
        name: "draft-wishes",
        route: "/lifter/{name}/programme/draft",
        record: Squad,
        way: &[Open(WISHES)],
    },
    Visit {
        name: "draft-wishes-open",
        route: "/lifter/{name}/programme/draft",
        record: Squad,
        way: &[Open(WISHES), Press("button[value=fixed]"), Sees("A fixed lift")],
    },
    Visit {
        name: "draft-wishes-refused",
        route: "/lifter/{name}/programme/draft",
        record: Squad,
        way: &[
            Open(WISHES),
            Fill("#field-minutes_Monday", "soon"),
            Fill("#field-raise", "bakc squat"),
            Press("button[value=draft]"),
            Sees("Nothing was drafted"),
        ],
    },
    Visit {
        name: "draft",
        route: "/lifter/{name}/programme/draft/{id}",
        record: Squad,
        way: &[
            Open(WISHES),
            Press("button[value=draft]"),
            Sees("this week stands"),
            PressTill(".draft-ways .plain", "You ended the search"),
        ],
    },
    Visit {
        name: "draft-contrary",
        route: "/lifter/{name}/programme/draft/{id}",
        record: Squad,
        way: &[
            Open(WISHES),
            Fill("#field-raise", "back squat"),
            Press("#field-spare_knee"),
            Press("button[value=draft]"),
            Sees("can't all be kept"),
        ],
    },
    Visit {
        name: "drafted-programme",
        route: "/lifter/{name}/programme/edit",
        record: Squad,
        way: &[
            Open(WISHES),
            Press("button[value=draft]"),
            Sees("this week stands"),
            PressTill(".draft-ways [name=take]", "This is the drafted week"),
        ],
    },
    Visit {
        name: "programme-file-refused",
        route: "/lifter/{name}/programme/file",
        record: Squad,
        way: &[
            Open("/lifter/Maren%20Tidewell/programme"),
            Press("#as-a-file > summary"),
            Fill("#field-text", "name = 1"),
            Press("form[action$='/file'] button"),
            Sees("must be text in quotes"),
        ],
    },
    Visit {
        name: "settings",
        route: "/lifter/{name}/settings",
        record: Squad,
        way: &[Open("/lifter/Maren%20Tidewell/settings")],
    },
    Visit {
        name: "pain-wrong",
        route: "/lifter/{name}/pain",
        record: Squad,
        way: &[
            Open("/lifter/Greta%20Thornsay"),
            Fill(".complaint [name=pain]", "eleven"),
            Press(".complaint button"),
            Sees("The rating was not recorded"),
        ],
    },
    Visit {
        name: "settings-wrong",
        route: "/lifter/{name}/settings",
        record: Squad,
        way: &[
            Open("/lifter/Maren%20Tidewell/settings"),
            Fill("[name=bar]", "a long one"),
            Fill("[name=pain]", "11"),
            Press("main button[type=submit]"),
            Sees("Nothing was changed"),
        ],
    },
    Visit { name: "new-lifter", route: "/new-lifter", record: Squad, way: &[Open("/new-lifter")] },
    Visit {
        name: "new-lifter-wrong",
        route: "/new-lifter",
        record: Squad,
        way: &[
            Open("/new-lifter"),
            Fill("[name=name]", "Maren Tidewell"),
            Fill("[name=best_lift_1]", "back squat"),
            Fill("[name=best_load_1]", "heavy"),
            Press("main button[type=submit]"),
            Sees("Nothing was changed"),
        ],
    },
    Visit { name: "import", route: "/import", record: Squad, way: &[Open("/import")] },
    Visit {
        name: "import-nothing",
        route: "/import",
        record: Squad,
        way: &[Open("/import"), Press("main button[type=submit]"), Sees("Nothing was sent")],
    },
    Visit {
        name: "import-look",
        route: "/import/{id}",
        record: Squad,
        way: &[
            Open("/import"),
            Fill("#text", TABLE),
            Press("main button[type=submit]"),
            Sees("What an import would do"),
        ],
    },
    Visit {
        name: "import-done",
        route: "/import/{id}",
        record: Nobody,
        way: &[
            Open("/import"),
            Fill("#text", TABLE),
            Press("main button[type=submit]"),
            Sees("What an import would do"),
            Press("main form[method=post] button"),
            Sees("Mend the refused lines"),
        ],
    },
    Visit {
        name: "link",
        route: "/lifter/{name}/links",
        record: Squad,
        way: &[Open("/lifter/Ines%20Quarrel"), Press(MAKE_LINK), Sees("Shown only now")],
    },
    Visit {
        name: "floor",
        route: "/floor/{token}",
        record: Squad,
        way: &[
            Open("/lifter/Maren%20Tidewell"),
            Press(MAKE_LINK),
            Sees("Shown only now"),
            Press(THE_LINK),
            REACHED,
        ],
    },
    Visit {
        name: "floor-call",
        route: "/floor/{token}",
        record: Squad,
        way: &[
            Open("/lifter/Maren%20Tidewell"),
            Press(MAKE_LINK),
            Sees("Shown only now"),
            Press(THE_LINK),
            REACHED,
            Press(LOG),
            Sees("Undo"),
            ALL_THERE,
        ],
    },
    Visit {
        name: "floor-short",
        route: "/floor/{token}",
        record: Squad,
        way: &[
            Open("/lifter/Tobias%20Wrenfold"),
            Press(MAKE_LINK),
            Sees("Shown only now"),
            Press(THE_LINK),
            REACHED,
            Fill("#in-set-reps", "3"),
            Press("input[name^=set-rir]"),
            Press(LOG),
            Sees("Undo"),
            ALL_THERE,
        ],
    },
    Visit {
        name: "floor-revoked",
        route: "/floor/{token}",
        record: Nobody,
        way: &[
            Open("/new-lifter"),
            Fill("[name=name]", "Sunniva Orre"),
            Press("main button[type=submit]"),
            Sees("The lifter is on record"),
            Press(MAKE_LINK),
            Sees("Shown only now"),
            Open("/lifter/Sunniva%20Orre"),
            Press(REVOKE),
            Sees("revoked on"),
            Open("/floor/0123456789abcdef0123456789abcdef01234567"),
            Sees("opens nothing"),
        ],
    },
    Visit { name: "coach-key", route: "/coach", record: Nobody, way: &[Open("/coach")] },
    Visit {
        name: "coach-wrong-key",
        route: "/coach",
        record: Nobody,
        way: &[
            Open("/coach"),
            Fill("[name=key]", "0123 4567"),
            Press("main button"),
            Sees("isn't the key of this desk"),
        ],
    },
    Visit {
        name: "coach-link",
        route: "/coach/{link}",
        record: Nobody,
        way: &[
            Open("/browsers"),
            Press(LINK_FOR_A_BROWSER),
            Sees("Send it to nobody"),
            Press(THE_LINK),
            Sees("in one browser, once"),
        ],
    },
    Visit {
        name: "coach-wrong-link",
        route: "/coach/{link}",
        record: Nobody,
        way: &[Open("/coach/0123456789abcdef"), Sees("opens nothing")],
    },
    Visit {
        name: "browsers-none",
        route: "/browsers",
        record: Squad,
        way: &[Open("/browsers"), Sees("No browser has been let in")],
    },
    Visit {
        name: "browsers",
        route: "/browsers",
        record: Nobody,
        way: &[
            Open("/browsers"),
            Press(LINK_FOR_A_BROWSER),
            Sees("Send it to nobody"),
            Press(THE_LINK),
            Sees("in one browser, once"),
            Press("main button"),
            Sees("on record yet"),
            Open("/browsers"),
            Sees("this one"),
        ],
    },
    Visit {
        name: "browsers-link",
        route: "/browsers/link",
        record: Nobody,
        way: &[Open("/browsers"), Press(LINK_FOR_A_BROWSER), Sees("Send it to nobody")],
    },
    Visit {
        name: "browsers-new-key",
        route: "/browsers/key",
        record: Nobody,
        way: &[
            Open("/browsers"),
            Press("form[action='/browsers/key'] button"),
            Sees("The key is changed"),
        ],
    },
    Visit {
        name: "not-the-coach",
        route: "/coach",
        record: Nobody,
        way: &[OpenAs("desk.local", "/")],
    },
    Visit {
        name: "not-by-that-name",
        route: "/coach",
        record: Nobody,
        way: &[OpenAs("elsewhere.example", "/")],
    },
    Visit { name: "no-such-page", route: "", record: Squad, way: &[Open("/no/such/page")] },
    Visit {
        name: "no-such-lifter",
        route: "/lifter/{name}",
        record: Squad,
        way: &[Open("/lifter/Nobody%20Known")],
    },
];

/// Every route in the source of the pages.
pub(crate) fn routes() -> Vec<String> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/web");
    let mut routes = Vec::new();
    let mut folders = vec![folder];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let text = std::fs::read_to_string(path).unwrap();
                // Unit tests come last in a file, and have routers of their own.
                let served = text.split("#[cfg(test)]").next().unwrap_or_default();
                let calls = served.split(".route(").skip(1);
                routes.extend(calls.map(|call| call.split('"').nth(1).unwrap().to_owned()));
            }
        }
    }
    routes.sort();
    routes
}
