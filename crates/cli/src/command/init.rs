//! `init`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::context::Context;
use crate::failure::Failure;
use crate::receipt;
use clap::Args;
use ledger::Ledger;
use ledger::tell::init::Opening;
use record::Zone;
use record::person::Role;
use record::time::Shift;
use serde_json::json;

/// Arguments of `init`.
#[derive(Debug, Args)]
pub struct InitArgs {
    /// What people call this station, say "crib 1"
    #[arg(long, value_name = "NAME")]
    pub station: String,
    /// What people call the shop
    #[arg(long, value_name = "NAME")]
    pub shop: Option<String>,
    /// Time zone of the shop, Area/City [default: this machine's]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// A shift in local time, say 06:00-14:30; can be repeated
    #[arg(long, value_name = "HH:MM-HH:MM")]
    pub shift: Vec<String>,
    /// Name of the person acting, who is enrolled first
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    /// Roles of the person acting; can be repeated [default: attendant and inspector]
    #[arg(long, value_name = "ROLE")]
    pub role: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Reads roles.
pub(crate) fn roles(words: &[String]) -> Result<Vec<Role>, Failure> {
    words
        .iter()
        .flat_map(|w| w.split([';', ',']))
        .map(str::trim)
        .filter(|w| !w.is_empty())
        .map(|word| {
            Role::parse(word).ok_or_else(|| {
                let all: Vec<&str> = Role::ALL.iter().map(|r| r.word()).collect();
                Failure::not_understood(format!("{word:?} is not a role."))
                    .next(format!("roles are {}", all.join(", ")))
            })
        })
        .collect()
}

/// Reads shifts.
pub(crate) fn shifts(words: &[String]) -> Result<Vec<Shift>, Failure> {
    words
        .iter()
        .map(|w| {
            Shift::parse(w)
                .map_err(|e| Failure::not_understood(e.to_string()).next("for example --shift 06:00-14:30"))
        })
        .collect()
}

/// The zone named, else the machine's.
fn zone(named: Option<&str>) -> Result<Zone, Failure> {
    let fail = |e: record::time::TimeError| {
        Failure::not_understood(e.to_string()).next("name the shop's zone with --zone Area/City")
    };
    match named {
        Some(name) => Zone::named(name.trim()).map_err(fail),
        None => {
            let name = iana_time_zone::get_timezone().map_err(|e| {
                Failure::not_understood(format!("this machine does not say its time zone: {e}"))
                    .next("name the shop's zone with --zone Area/City")
            })?;
            Zone::named(&name).map_err(fail)
        }
    }
}

/// Makes a new book.
pub fn run(context: &Context, args: &InitArgs) -> Result<Answer, Failure> {
    let roles =
        if args.role.is_empty() { vec![Role::Attendant, Role::Inspector] } else { roles(&args.role)? };
    let opening = Opening {
        station: args.station.clone(),
        shop: args.shop.clone().unwrap_or_default(),
        zone: zone(args.zone.as_deref())?,
        shifts: shifts(&args.shift)?,
        name: args.name.clone(),
        roles: roles.clone(),
    };
    let acting = context.acting(args.dry_run.dry_run, None);
    let done = Ledger::init(context.book(), &context.home, &acting, &opening)?;
    let mut text = format!(
        "New book {}, station {}, zone {}.\nIts key is in {}: it never goes into a copy of the book.\n",
        context.book().display(),
        args.station,
        opening.zone.name(),
        done.value.key_folder.display()
    );
    if !acting.badge.is_empty() {
        let words: Vec<&str> = roles.iter().map(|r| r.word()).collect();
        text.push_str(&format!("{} is enrolled as {}.\n", acting.badge, words.join(", ")));
    }
    let more = json!({
        "book": context.book().display().to_string(),
        "station": done.value.station.to_string(),
        "zone": opening.zone.name(),
    });
    let mut answer = receipt::answer("init", &done, text, more);
    if acting.badge.is_empty() {
        answer.warnings.push(
            "nobody was named as acting, so nobody is enrolled; enrol the first person with: rodbook enroll BADGE --name \
             NAME --role inspector"
                .into(),
        );
    }
    Ok(answer)
}
