// sondeyard replay, score and operate: an exercise that was worked, from its log or by a model operator, and how it went.
#include "field/coach.hpp"
#include "field/debrief.hpp"
#include "field/known.hpp"
#include "field/model_operator.hpp"
#include "field/replay.hpp"
#include "scenarios/log_header.hpp"
#include "ui/cli/commands.hpp"
#include "ui/cli/print.hpp"

#include <algorithm>
#include <utility>

namespace sondeyard::ui {

namespace {

struct Replayed {
    field::WorkLog log;
    field::Setting setting;
    field::ReplayResult result;
};

Replayed replayed(const std::filesystem::path& path) {
    field::WorkLog log = field::read_log(path);
    field::Setting setting(scenarios::world_of(log.header, path.string()));
    field::ReplayResult result = field::replay(setting, log);
    return {std::move(log), std::move(setting), std::move(result)};
}

// What is wrong with a log, if anything: where it was cut or altered, where the replay differs.
std::vector<std::string> doubts(const Replayed& r) {
    std::vector<std::string> all;
    if (!r.log.fault.empty()) {
        all.push_back(r.log.fault);
    }
    if (r.result.first_difference) {
        std::string what = r.result.first_difference->what;
        if (r.log.header.program != SONDEYARD_VERSION) {
            what += fmt::format(" (the log was written by version {}, this is {}: they need not agree)",
                                r.log.header.program, SONDEYARD_VERSION);
        }
        all.push_back(std::move(what));
    }
    return all;
}

void print_doubts(const std::vector<std::string>& all) {
    for (const std::string& line : all) {
        fmt::print(stderr, "sondeyard: {}\n", line);
    }
}

void print_score(const field::Setting& setting, const field::ExerciseState& state, const field::Score& s,
                 field::Units units) {
    const field::Debrief d = field::debrief(setting, state, s, units);
    constexpr std::size_t figure_indent = 12;
    constexpr std::size_t item_indent = 31;
    constexpr std::size_t lesson_indent = 19;
    fmt::print("{}\n{}\n\n", setting.world.sheet.title, wrapped(d.hole, 0));
    print_row(figure_indent, "points", fmt::format("{} of 100, {}", s.points, s.passed ? "passed" : "not passed"));
    for (const field::Figure& f : d.figures) {
        print_row(figure_indent, f.title, fmt::format("{}{} [{}]", f.good ? "" : "* ", f.value, f.tolerance));
    }
    fmt::print("In brackets: what counts as good. *: missed.\n\n");
    for (const field::ProcedureItem& item : s.procedure) {
        const std::string_view done = !item.applies ? "-" : (item.done ? "yes" : "no");
        print_row(item_indent, fmt::format("{:<5}{}", done, item.key), item.evidence);
    }
    for (const field::SafetyItem& item : s.safety) {
        print_row(item_indent, fmt::format("{:<5}{}", item.failed ? "FAIL" : "ok", item.key), item.evidence);
    }
    fmt::print("\n");
    for (const std::string& note : d.notes) {
        print_row(2, "-", note);
    }
    fmt::print("\nWhat could be known\n");
    for (const std::string& sentence : field::known_sentences(field::what_could_be_known(setting, state, s), units)) {
        print_row(2, "-", sentence);
    }
    if (!d.lesson.empty()) {
        fmt::print("\nIn this yard\n");
        for (const field::LessonPart& part : d.lesson) {
            print_row(lesson_indent, part.title, part.text);
        }
        fmt::print("\n");
    }
    fmt::print("{}\n", wrapped(d.disclaimer, 0));
}

// A document for programs is in metres whatever was asked for.
template <typename Options>
field::Units said_in(const Options& options) {
    return options.json ? field::Units::metric : options.units;
}

// What explains it, most first; a shorter list than a program gets.
void print_findings(const std::vector<field::Finding>& findings) {
    if (findings.empty()) {
        return;
    }
    constexpr std::size_t indent = 11;
    fmt::print("\nFindings, those that can have cost most first; the same points may stand with several\n");
    for (std::size_t i = 0; i < std::min(findings.size(), field::findings_shown); ++i) {
        const field::Finding& f = findings[i];
        const std::string points = fmt::format("{:3.0f} points", f.points);
        print_row(indent, points, f.title);
        print_row(indent, f.tick ? fmt::format("  {:>7}", field::clock_text(*f.tick)) : std::string(), f.evidence);
        print_row(indent, "  next", f.next_time);
    }
    if (findings.size() > field::findings_shown) {
        fmt::print("and {} more (--json has all)\n", findings.size() - field::findings_shown);
    }
}

// None of work that was not finished.
std::vector<field::Finding> findings_of(const field::Setting& setting, const field::ExerciseState& state,
                                        const field::Score& s, field::Units units = field::Units::metric) {
    return state.finished_tick ? field::coach(setting, state, s, units) : std::vector<field::Finding>{};
}

// The score, what could be known and what was found, as one document.
Json score_document(const field::Setting& setting, const field::ExerciseState& state, const field::Score& s) {
    Json document = Json::parse(field::score_json(s));
    document["known"] = Json::parse(field::known_json(field::what_could_be_known(setting, state, s)));
    document["findings"] = field::findings_json(findings_of(setting, state, s));
    return document;
}

Json lesson_json(const field::Lesson& lesson) {
    const auto text = [](const std::string& words) { return field::in_units(words, field::Units::metric); };
    return {{"different", text(lesson.different)}, {"tell", text(lesson.tell)}, {"act", text(lesson.act)}};
}

} // namespace

int replay(const LogOptions& options) {
    const Replayed r = replayed(options.log);
    const std::vector<std::string> why = doubts(r);
    const double seconds = static_cast<double>(r.result.ticks) * field::tick_s;
    const field::Units units = said_in(options);
    const field::Score scored = field::score(r.setting, r.result.state, units);
    const std::vector<field::Finding> findings = findings_of(r.setting, r.result.state, scored, units);
    const field::WhatCouldBeKnown known = field::what_could_be_known(r.setting, r.result.state, scored);
    if (options.json) {
        print_json(
            {{"log", options.log.string()},
             {"agrees", !r.result.first_difference.has_value()},
             {"sound", why.empty()},
             {"ticks", r.result.ticks},
             {"seconds", seconds},
             {"checkpoints", r.result.checkpoints},
             {"finished", r.result.state.finished_tick.has_value()},
             {"first_difference_tick", r.result.first_difference ? Json(r.result.first_difference->tick) : Json()},
             {"faults", why},
             {"findings", field::findings_json(findings)},
             {"known", Json::parse(field::known_json(known))},
             {"digest", fmt::format("{:016x}", r.result.state.digest)}});
    } else {
        fmt::print("{}: {}, seed {}\n{:.1f} s of work ({} ticks), {}\n", options.log.string(),
                   r.setting.world.sheet.title, r.log.header.seed, seconds, r.result.ticks,
                   r.result.state.finished_tick ? "finished" : "not finished");
        fmt::print("{} checkpoints compared, {}\n", r.result.checkpoints,
                   r.result.first_difference ? "and the replay differs" : "all agree");
        print_findings(findings);
        for (const std::string& sentence : field::known_sentences(known, units)) {
            print_row(2, "-", sentence);
        }
        print_doubts(why);
    }
    return why.empty() ? 0 : 1;
}

int score(const LogOptions& options) {
    const Replayed r = replayed(options.log);
    const std::vector<std::string> why = doubts(r);
    const field::Score s = field::score(r.setting, r.result.state, said_in(options));
    if (options.json) {
        Json document = score_document(r.setting, r.result.state, s);
        document["log"] = options.log.string();
        document["lesson"] = lesson_json(r.setting.world.lesson);
        document["log_sound"] = why.empty();
        document["log_faults"] = why;
        print_json(document);
    } else {
        print_score(r.setting, r.result.state, s, options.units);
        print_findings(findings_of(r.setting, r.result.state, s, options.units));
        print_doubts(why);
    }
    return why.empty() ? 0 : 1;
}

int operate(const OperateOptions& options) {
    const field::Setting setting(scenarios::resolve(scenarios::find_scenario(options.scenario), options.seed));
    const auto who = field::make_model_operator(options.who, setting.brief);
    if (!who) {
        throw BadInput(fmt::format("--operator: found \"{}\"; allowed: {}", options.who,
                                   fmt::join(field::model_operator_names(), ", ")));
    }
    std::optional<field::LogWriter> log;
    if (options.log) {
        log.emplace(*options.log, scenarios::log_header(setting.world, SONDEYARD_VERSION));
    }
    constexpr std::int64_t half_an_hour = 30 * 60 * 60;
    const auto record = [&log](const field::Action& action, const field::Observation& seen,
                               const field::ExerciseState& state) {
        if (log) {
            log->record(action, seen, state);
        }
    };
    const field::ExerciseState state = field::operate(setting, *who, half_an_hour, record);
    if (log) {
        log->end(state);
        if (!log->broken().empty()) {
            throw BadInput(fmt::format("{}: {}", options.log->string(), log->broken()));
        }
    }
    const field::Score s = field::score(setting, state, said_in(options));
    if (options.json) {
        Json document = score_document(setting, state, s);
        document["scenario"] = options.scenario;
        document["seed"] = options.seed;
        document["operator"] = options.who;
        document["lesson"] = lesson_json(setting.world.lesson);
        document["log"] = options.log ? Json(options.log->string()) : Json();
        document["seconds"] = static_cast<double>(state.tick) * field::tick_s;
        print_json(document);
    } else {
        fmt::print("{} worked \"{}\", seed {}, in {:.0f} s.\n", options.who, options.scenario, options.seed,
                   static_cast<double>(state.tick) * field::tick_s);
        print_score(setting, state, s, options.units);
    }
    return 0;
}

} // namespace sondeyard::ui
