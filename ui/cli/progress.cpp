// sondeyard progress: who practised on this machine, and how it went.
#include "field/files.hpp"
#include "field/progress_review.hpp"
#include "scenarios/lesson.hpp"
#include "ui/cli/commands.hpp"
#include "ui/cli/print.hpp"
#include "ui/window/people.hpp"
#include "ui/window/settings.hpp"

#include <algorithm>
#include <iterator>

namespace sondeyard::ui {

namespace {

struct Record {
    field::Person person;
    std::vector<field::Attempt> attempts;
};

std::string_view word_of(field::TrendWord word) {
    switch (word) {
    case field::TrendWord::too_few:
        return "too few";
    case field::TrendWord::smaller:
        return "smaller";
    case field::TrendWord::larger:
        return "larger";
    case field::TrendWord::level:
        return "no clear trend";
    }
    return "";
}

Json attempt_json(const field::Attempt& a) {
    Json parts;
    if (a.parts) {
        parts = {{"position", a.parts->position},
                 {"depth", a.parts->depth},
                 {"tilt", a.parts->tilt},
                 {"dig", a.parts->dig},
                 {"procedure", a.parts->procedure}};
    }
    return {{"date", a.date},
            {"exercise", a.exercise},
            {"seed", a.seed},
            {"points", a.points},
            {"passed", a.passed},
            {"part_points", parts},
            {"error_m", or_null(a.error_m)},
            {"error_share_of_depth", or_null(a.error_share)},
            {"depth_error_m", or_null(a.depth_error_m)},
            {"tilt_right", or_null(a.tilt_right)},
            {"duration_s", or_null(a.duration_s)},
            {"missed", a.missed},
            {"findings", or_null(a.findings)},
            {"log", a.log}};
}

field::Weakness weakness_of(const Record& r) { return field::weakness_of(r.attempts, scenarios::bundled_names()); }

// The first few of what to practise.
std::vector<field::Practice> next_for(const Record& r) {
    constexpr std::size_t most = 5;
    const std::string today = local_time_text("%Y-%m-%d");
    auto all = field::lessons_to_take(weakness_of(r), r.attempts, scenarios::bundled_lesson_topics(), today);
    std::ranges::move(field::practise_next(r.attempts, scenarios::bundled_names(), today), std::back_inserter(all));
    all.resize(std::min(all.size(), most));
    return all;
}

Json record_json(const Record& r) {
    const field::ErrorTrend trend = field::error_trend(r.attempts);
    Json slope;
    if (trend.trend) {
        slope = {{"share_of_depth_per_attempt", trend.trend->slope},
                 {"low_95", trend.trend->low},
                 {"high_95", trend.trend->high}};
    }
    Json weak = Json::array();
    const field::Weakness weakness = weakness_of(r);
    for (const field::WeakPart& part : weakness.parts) {
        weak.push_back({{"part", part.part}, {"share_of_points", part.share}, {"attempts", part.attempts}});
    }
    Json recurring = Json::array();
    for (const field::Recurrence& one : weakness.findings) {
        recurring.push_back({{"finding", one.finding}, {"times", one.times}, {"of", weakness.coached}});
    }
    Json next = Json::array();
    for (const field::Practice& p : next_for(r)) {
        next.push_back({{"exercise", p.exercise}, {"why", field::reason_of(p)}});
    }
    Json attempts = Json::array();
    for (const field::Attempt& a : r.attempts) {
        attempts.push_back(attempt_json(a));
    }
    return {{"name", r.person.name},   {"trend", word_of(trend.word)}, {"slope", slope},      {"parts", weak},
            {"comes_back", recurring}, {"practise_next", next},        {"attempts", attempts}};
}

void print_people(const std::vector<Record>& records) {
    if (records.empty()) {
        fmt::print("Nobody has practised on this machine yet.\n");
        return;
    }
    std::size_t wide = 6;
    for (const Record& r : records) {
        wide = std::max(wide, std::min<std::size_t>(40, columns_of(r.person.name)));
    }
    fmt::print("{:<{}}  attempts  passed  off lately  errors get     last\n", "person", wide);
    for (const Record& r : records) {
        const field::ErrorTrend trend = field::error_trend(r.attempts);
        const auto passed = std::ranges::count_if(r.attempts, &field::Attempt::passed);
        const std::size_t columns = columns_of(r.person.name);
        fmt::print("{}{}  {:>8}  {:>6}  {:>10}  {:<14} {}\n", r.person.name,
                   std::string(columns < wide ? wide - columns : 0, ' '), r.attempts.size(), passed,
                   trend.share.empty() ? "--" : fmt::format("{:.0f} %", 100.0 * trend.recent_median),
                   word_of(trend.word), r.attempts.empty() ? "" : r.attempts.back().date);
    }
    fmt::print("\noff lately: median error in plan over depth. 'sondeyard progress --person NAME' says more.\n");
}

void print_person(const Record& r, field::Units units) {
    fmt::print("{}: {} attempt{}\n\n", r.person.name, r.attempts.size(), r.attempts.size() == 1 ? "" : "s");
    fmt::print("{:<16}  {:<24}  {:>6}  {:<10}  {:>14}  {:>14}\n", "date", "exercise", "points", "", "off by",
               "depth by");
    for (const field::Attempt& a : r.attempts) {
        const auto length = [units](const std::optional<double>& m) {
            return m ? field::error_text(*m, units) : std::string("--");
        };
        fmt::print("{:<16}  {:<24}  {:>6}  {:<10}  {:>14}  {:>14}\n", a.date, a.exercise.substr(0, 24), a.points,
                   a.passed ? "passed" : "not passed", length(a.error_m), length(a.depth_error_m));
    }
    fmt::print("\n{}\n", wrapped(field::sentence_of(field::error_trend(r.attempts)), 0));
    for (const std::string& sentence : field::sentences_of(weakness_of(r))) {
        fmt::print("{}\n", wrapped(sentence, 0));
    }
    fmt::print("\nNext to practise:\n");
    for (const field::Practice& p : next_for(r)) {
        fmt::print("  {:<24}  {}\n", p.exercise, field::reason_of(p));
    }
}

void write_csv(const std::filesystem::path& file, const std::vector<Record>& records) {
    std::string csv = field::progress_csv("", {});
    const std::size_t header = csv.size();
    for (const Record& r : records) {
        csv += field::progress_csv(r.person.name, r.attempts).substr(header);
    }
    field::write_new_file(file, csv);
}

std::vector<Record> chosen_records(People& people, const std::optional<std::string>& name) {
    std::vector<Record> records;
    std::string known;
    for (const field::Person& person : people.all()) {
        known += fmt::format("{}\"{}\"", known.empty() ? "" : ", ", person.name);
        if (!name || person.name == *name) {
            records.push_back({person, people.attempts_of(person.id)});
        }
    }
    if (name && records.empty()) {
        throw BadInput(fmt::format("there is no person \"{}\"; there {}", *name,
                                   known.empty() ? "is nobody yet" : "are " + known));
    }
    return records;
}

int delete_one(People& people, const ProgressOptions& options) {
    const Record r = chosen_records(people, options.remove).front();
    const std::string what =
        fmt::format("\"{}\" and {} attempt{}{}", r.person.name, r.attempts.size(), r.attempts.size() == 1 ? "" : "s",
                    options.logs ? " with their work logs" : "");
    std::string trouble;
    if (options.yes) {
        trouble = people.remove(r.person.id, options.logs);
    }
    if (options.json) {
        print_json({{"person", r.person.name},
                    {"attempts", r.attempts.size()},
                    {"logs", options.logs},
                    {"deleted", options.yes && trouble.empty()},
                    {"trouble", trouble}});
    } else if (!options.yes) {
        fmt::print("This would delete {} for good; nothing is deleted yet. With --yes it is.\n", what);
    } else {
        fmt::print("{}\n", trouble.empty() ? fmt::format("Deleted: {}.", what) : trouble);
    }
    return options.yes && trouble.empty() ? 0 : 1;
}

} // namespace

int progress(const ProgressOptions& options) {
    const std::filesystem::path data = data_folder();
    if (data.empty()) {
        throw BadInput(fmt::format("there is no progress: {}", no_home));
    }
    People people(data);
    if (!people.trouble().empty()) {
        throw BadInput(people.why_not());
    }
    if (options.remove) {
        return delete_one(people, options);
    }
    const std::vector<Record> records = chosen_records(people, options.person);
    if (options.csv) {
        write_csv(*options.csv, records);
    }
    if (options.json) {
        Json all = Json::array();
        for (const Record& r : records) {
            all.push_back(record_json(r));
        }
        const Json document = {{"store", (data / store_file).string()},
                               {"csv", options.csv ? Json(options.csv->string()) : Json()},
                               {"people", all}};
        fmt::print("{}\n", document.dump(2, ' ', false, Json::error_handler_t::replace));
    } else if (options.csv) {
        fmt::print("Written: {}\n", options.csv->string());
    } else if (options.person) {
        print_person(records.front(), options.units);
    } else {
        print_people(records);
    }
    return 0;
}

} // namespace sondeyard::ui
