//! `enroll`

use crate::answer::Answer;
use crate::args::DryRun;
use crate::command::init::roles;
use crate::context::Context;
use crate::failure::Failure;
use crate::receipt;
use clap::Args;
use serde_json::json;

/// Arguments of `enroll`.
#[derive(Debug, Args)]
pub struct EnrollArgs {
    /// The badge they carry
    pub badge: String,
    /// Their name; it is kept beside the record and can be erased
    #[arg(long, value_name = "NAME")]
    pub name: String,
    /// attendant, welder, inspector, auditor, lab; can be repeated
    #[arg(long, value_name = "ROLE")]
    pub role: Vec<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub dry_run: DryRun,
}

/// Enrols a person.
pub fn run(context: &Context, args: &EnrollArgs) -> Result<Answer, Failure> {
    let roles = roles(&args.role)?;
    let acting = context.acting(args.dry_run.dry_run, None);
    let done = context.open_for_writing()?.enroll(&acting, &args.badge, &args.name, &roles)?;
    let words: Vec<&str> = roles.iter().map(|r| r.word()).collect();
    let role = if words.is_empty() { "without a role".into() } else { format!("as {}", words.join(", ")) };
    let text = format!("{}, {}, is enrolled {role}.\n", args.badge, args.name);
    Ok(receipt::answer("enroll", &done, text, json!({ "badge": args.badge, "roles": words })))
}
