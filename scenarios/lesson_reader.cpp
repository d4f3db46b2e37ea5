// A lesson's file: the table of its keys, and the reader that goes by it.
#include "field/coach.hpp"
#include "scenarios/lesson.hpp"
#include "scenarios/reader.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace sondeyard::scenarios {

namespace {

constexpr double lesson_format = 1;
constexpr std::size_t fewest_steps = 3;
constexpr std::size_t most_steps = 12;
constexpr double largest_seed = 1e15;

// ---- The table of keys ----

constexpr std::array<std::string_view, 2> lesson_lists = {"step", "test.need"};

// What a lesson can be proposed for.
std::span<const std::string_view> help_words() {
    static const std::vector<std::string_view> all = [] {
        std::vector<std::string_view> words(field::finding_keys().begin(), field::finding_keys().end());
        words.insert(words.end(), field::part_names().begin(), field::part_names().end());
        return words;
    }();
    return all;
}

KeyRow text(std::string_view key, double most, std::string_view meaning) {
    KeyRow row = rows::always(rows::text(key, most, "", meaning));
    row.low = 1.0;
    return row;
}
KeyRow whole(std::string_view key, double low, double high, std::string_view meaning) {
    KeyRow row = rows::always(rows::number(key, "", low, high, "", meaning));
    row.kind = Kind::count;
    return row;
}
KeyRow check(std::string_view key, std::string_view meaning) {
    KeyRow row = rows::always(rows::text(key, 0.0, "", meaning));
    row.kind = Kind::check;
    return row;
}
KeyRow help(std::string_view key, std::string_view meaning) {
    KeyRow row = rows::word(key, help_words(), "", meaning);
    row.kind = Kind::words;
    return row;
}
KeyRow left_out(std::string_view standard, KeyRow row) {
    row.need = Need::no;
    row.standard = standard;
    return row;
}

const KeyTable& lesson_keys() {
    using rows::number;
    using rows::yes_no;
    // clang-format off: one key a line, so that the table can be read as one
    static const std::vector<KeyRow> all = {
        whole("lesson_format", lesson_format, lesson_format, "version of this format"),
        text("title", 60, "what the lesson is called"),
        text("goal", 160, "what one can do after it, one sentence"),
        text("fact", 300, "the figure that it teaches"),
        left_out("then `scenario` is given", text("yard", 80, "a bundled exercise")),
        left_out("then `yard` is given", text("scenario", 20000, "a whole scenario as a text in three single quotes")),
        left_out("1", whole("seed", 0, largest_seed, "of the yard")),
        left_out("false", yes_no("field_shown", "", "the true field may be looked at in the guided part")),
        left_out("nothing", help("helps_with", "it is proposed to who has these findings again and again, or these parts weak")),
        text("step.text", 240, "what to do"),
        left_out("none", text("step.hint", 240, "how, for the first time through")),
        left_out("none", text("step.key", 40, "the command that does it, by its id")),
        check("step.done_when", "see the checks"),
        left_out("false", yes_no("step.leads_up", "", "only the way to the next step that does not lead up: counts too as soon as that one is done")),
        text("test.task", 300, "what is to be done, without saying how"),
        left_out("as above", text("test.yard", 80, "another bundled exercise")),
        left_out("as above", text("test.scenario", 20000, "another yard, written as above")),
        whole("test.seed", 0, largest_seed, "of the test's yard; another than the lesson's"),
        left_out("not asked", number("test.locate_within_m", "m", 0.05, 3, "", "the locate is so near to the sonde")),
        left_out("not asked", number("test.depth_within_percent", "%", 1, 50, "", "the depth call is so near to the true depth")),
        left_out("false", yes_no("test.tilt_right", "", "the tilt call is right")),
        left_out("false", yes_no("test.dig_on_pipe", "", "the dig box would end on the pipe, and no safety item failed")),
        left_out("false", yes_no("test.dig_safe", "", "there is a dig box, and no safety item failed")),
        left_out("not asked", whole("test.points_at_least", 1, 100, "of 100")),
        left_out("not asked", number("test.time_at_most_s", "s", 30, 3600, "", "from the first movement")),
        text("test.need.text", 120, "what has to be done in the test, as the result names it"),
        check("test.need.done_when", "as in a step"),
    };
    // clang-format on
    static const KeyTable table{all, lesson_lists};
    return table;
}

// ---- The reader ----

// One table of the file and what its keys say; a key that is missing or wrong is not among them.
struct Part {
    const toml::table& table;
    std::string_view group;
    Entries entries{};

    const Entry* find(std::string_view leaf) const {
        const auto at = entries.find(leaf);
        return at == entries.end() ? nullptr : &at->second;
    }
    template <typename Value>
    Value value(std::string_view leaf, const Value& otherwise) const {
        const Entry* entry = find(leaf);
        return entry == nullptr ? otherwise : std::get<Value>(entry->value);
    }
    std::string text(std::string_view leaf) const { return value(leaf, std::string()); }
    bool yes(std::string_view leaf) const { return value(leaf, false); }
    std::optional<double> number(std::string_view leaf) const {
        const Entry* entry = find(leaf);
        return entry == nullptr ? std::nullopt
                                : std::optional(std::get<std::vector<Number>>(entry->value).front().values.front());
    }
};

class LessonReader {
public:
    LessonReader(std::string_view source, FaultList& faults) : source_(source), faults_(faults) {}

    void read(const toml::table& root, LessonFile& file) {
        const Part top = part(root, "");
        field::CourseLesson& lesson = file.lesson;
        lesson.title = top.text("title");
        lesson.goal = top.text("goal");
        lesson.fact = top.text("fact");
        lesson.field_shown = top.yes("field_shown");
        lesson.helps_with = top.value("helps_with", std::vector<std::string>());
        file.seed = top.value("seed", std::uint64_t{1});
        steps(root, lesson);
        yard(top, file.yard, true);
        file.test_yard = file.yard;
        const toml::node* test = root.get("test");
        if (test != nullptr && test->is_table()) {
            read_test(part(*test->as_table(), "test"), file);
        } else {
            fault(test != nullptr ? *test : static_cast<const toml::node&>(root), "test",
                  "found no table [test]; allowed: one, with its task and seed");
        }
    }

    // Of yards, whole.
    const std::vector<std::string>& messages() const { return messages_; }

private:
    void fault(const toml::node& node, std::string_view key, std::string_view words) {
        fault(spot_of(node.source()), key, words);
    }
    void fault(const Spot& spot, std::string_view key, std::string_view words) {
        faults_.add({std::max(1U, spot.line), std::max(1U, spot.column)}, key, words);
    }

    Part part(const toml::table& table, std::string_view group) {
        Part result{table, group};
        const auto key_of = [&](std::string_view leaf) {
            return group.empty() ? std::string(leaf) : fmt::format("{}.{}", group, leaf);
        };
        for (const auto& [key, node] : table) {
            const std::string full = key_of(key.str());
            if (is_group(full, lesson_keys())) {
                continue; // a table within this one: read where it belongs
            }
            const KeyRow* row = find_row(full, lesson_keys());
            if (row == nullptr) {
                fault(spot_of(key.source()), full, unknown_key_text(group, key.str(), lesson_keys()));
            } else if (std::optional<Entry> entry = read_value(*row, node, faults_, "")) {
                result.entries.emplace(std::string(key.str()), std::move(*entry));
            }
        }
        for (const KeyRow& row : lesson_keys().rows) {
            if (group_of(row.key) == group && row.need == Need::always && !table.contains(leaf_of(row.key))) {
                fault(table, row.key, fmt::format("missing; allowed: {}", allowed_text(row)));
            }
        }
        return result;
    }

    // Every table of an array [[name]]; anything else is said.
    template <typename Use>
    std::size_t each(const toml::table& table, std::string_view name, std::string_view group, Use use) {
        const toml::node* node = table.get(name);
        const auto* list = node != nullptr ? node->as_array() : nullptr;
        if (node != nullptr &&
            (list == nullptr || !std::ranges::all_of(*list, [](const toml::node& n) { return n.is_table(); }))) {
            fault(*node, group,
                  fmt::format("found {}; allowed: tables, each written [[{}]]", found_text(*node), group));
            return 0;
        }
        if (list == nullptr) {
            return 0;
        }
        for (const toml::node& one : *list) {
            use(part(*one.as_table(), group));
        }
        return list->size();
    }

    void steps(const toml::table& root, field::CourseLesson& lesson) {
        const std::size_t count = each(root, "step", "step", [&](const Part& step) {
            lesson.steps.push_back({.text = step.text("text"),
                                    .hint = step.text("hint"),
                                    .key = step.text("key"),
                                    .done_when = check(step),
                                    .leads_up = step.yes("leads_up")});
        });
        leading_up(root, lesson);
        if (count < fewest_steps || count > most_steps) {
            fault(root, "step", fmt::format("found {} of them; allowed: {} to {}", count, fewest_steps, most_steps));
        }
    }

    // What a step leads up to has to last, or the way to it would count by chance.
    void leading_up(const toml::table& root, const field::CourseLesson& lesson) {
        std::size_t aim = lesson.steps.size();
        for (std::size_t i = lesson.steps.size(); i-- > 0;) {
            const field::CourseStep& step = lesson.steps[i];
            aim = step.leads_up ? aim : i;
            const field::CheckKind* kind = aim < lesson.steps.size() ? lesson.steps[aim].done_when.kind : nullptr;
            if (step.leads_up && (aim == lesson.steps.size() || (kind != nullptr && !kind->lasts))) {
                fault(*root["step"][i]["leads_up"].node(), "leads_up",
                      fmt::format("found true, and {}; allowed: before a step whose check lasts, such as marked",
                                  kind == nullptr ? std::string("no step to lead up to")
                                                  : fmt::format("the step it leads up to asks for {}", kind->name)));
            }
        }
    }

    field::Check check(const Part& part) {
        const auto* given = part.table["done_when"].as_table();
        if (given == nullptr) {
            return {}; // said already
        }
        const toml::node* name = given->get("check");
        const std::string found = name != nullptr ? name->value_or(std::string()) : std::string();
        const field::CheckKind* kind = field::find_check(found);
        if (kind == nullptr) {
            std::vector<std::string_view> names;
            for (const field::CheckKind& one : field::check_kinds()) {
                names.push_back(one.name);
            }
            fault(name != nullptr ? *name : static_cast<const toml::node&>(*given), "done_when.check",
                  fmt::format("found {}; allowed: {}", name != nullptr ? found_text(*name) : "nothing",
                              fmt::join(names, ", ")));
            return {};
        }
        field::Check result{kind, {}};
        for (const auto& [key, value] : *given) {
            const bool known =
                key.str() == "check" ||
                std::ranges::find(kind->parameters, key.str(), &field::CheckParameter::name) != kind->parameters.end();
            if (!known) {
                std::vector<std::string_view> names = {"check"};
                std::ranges::transform(kind->parameters, std::back_inserter(names), &field::CheckParameter::name);
                fault(spot_of(key.source()), fmt::format("done_when.{}", key.str()),
                      fmt::format("found an unknown parameter; {} takes: {}", kind->name, fmt::join(names, ", ")));
            }
        }
        for (std::size_t i = 0; i < kind->parameters.size(); ++i) {
            result.values[i] = parameter(*given, kind->parameters[i]);
        }
        return result;
    }

    double parameter(const toml::table& given, const field::CheckParameter& p) {
        const toml::node* node = given.get(p.name);
        const std::string allowed = p.words.empty() ? fmt::format("a number from {} to {}{}{}", p.low, p.high,
                                                                  p.unit.empty() ? "" : " ", p.unit)
                                                    : fmt::format("\"{}\"", fmt::join(p.words, "\", \""));
        const std::string key = fmt::format("done_when.{}", p.name);
        if (node == nullptr) {
            if (!p.standard) {
                fault(given, key, fmt::format("found nothing; allowed: {}", allowed));
            }
            return p.standard.value_or(0.0);
        }
        if (!p.words.empty()) {
            const auto at = std::ranges::find(p.words, node->value_or(std::string_view()));
            if (at != p.words.end()) {
                return static_cast<double>(at - p.words.begin());
            }
        } else if (const auto value = node->value<double>(); value && *value >= p.low && *value <= p.high) {
            return *value;
        }
        fault(*node, key, fmt::format("found {}; allowed: {}", found_text(*node), allowed));
        return p.standard.value_or(0.0);
    }

    // A yard by name or written out. One written out is read at its place in the file, so that its faults are told
    // there.
    void yard(const Part& part, Scenario& into, bool needed) {
        const toml::node* by_name = part.table.get("yard");
        const toml::node* written = part.table.get("scenario");
        if ((by_name != nullptr) == (written != nullptr)) {
            if (needed || by_name != nullptr) {
                fault(by_name != nullptr ? *by_name : static_cast<const toml::node&>(part.table), "yard",
                      fmt::format("found {} of yard and scenario; allowed: one of them",
                                  by_name != nullptr ? "both" : "none"));
            }
            return;
        }
        const std::string value = part.text(by_name != nullptr ? "yard" : "scenario");
        if (value.empty()) {
            return; // said already
        }
        if (by_name != nullptr) {
            const auto names = bundled_names();
            if (std::ranges::find(names, value) == names.end()) {
                fault(*by_name, "yard", fmt::format("found \"{}\"; allowed: {}", value, fmt::join(names, ", ")));
                return;
            }
            into = bundled(value);
            return;
        }
        const std::uint32_t first_line = written->source().begin.line; // the text begins on the next one
        try {
            into = Scenario(parse_scenario(std::string(first_line, '\n') + value, source_));
        } catch (const ScenarioError& e) {
            messages_.insert(messages_.end(), e.messages.begin(), e.messages.end());
        }
    }

    void read_test(const Part& part, LessonFile& file) {
        field::LessonTest& test = file.lesson.test;
        test.task = part.text("task");
        file.test_seed = part.value("seed", std::uint64_t{2});
        yard(part, file.test_yard, false);
        if (part.find("seed") != nullptr && file.test_seed == file.seed && !part.table.contains("yard") &&
            !part.table.contains("scenario")) {
            fault(*part.table.get("seed"), "seed",
                  "found the lesson's own seed; allowed: another, so that it is another yard");
        }
        test.locate_within_m = part.number("locate_within_m");
        test.depth_within_percent = part.number("depth_within_percent");
        test.tilt_right = part.yes("tilt_right");
        test.dig_on_pipe = part.yes("dig_on_pipe");
        test.dig_safe = part.yes("dig_safe");
        if (const std::uint64_t points = part.value("points_at_least", std::uint64_t{0}); points > 0) {
            test.points_at_least = static_cast<int>(points);
        }
        test.time_at_most_s = part.number("time_at_most_s");
        each(part.table, "need", "test.need",
             [&](const Part& need) { test.needs.push_back({need.text("text"), check(need)}); });
        const bool asks = test.locate_within_m || test.depth_within_percent || test.tilt_right || test.dig_on_pipe ||
                          test.dig_safe || test.points_at_least || !test.needs.empty();
        if (!asks) {
            fault(part.table, "test",
                  "found nothing that is asked for; allowed: a threshold or a [[test.need]], one at least");
        }
    }

    std::string_view source_;
    FaultList& faults_;
    std::vector<std::string> messages_;
};

} // namespace

LessonFile parse_lesson(std::string_view text, std::string_view source) {
    const toml::table root = parse_toml(text, source);
    const Scenario empty("", "", nullptr);
    LessonFile file{.lesson = {}, .yard = empty, .seed = 1, .test_yard = empty, .test_seed = 2};
    file.lesson.name = std::filesystem::path(source).stem().string();
    FaultList faults{std::string(source)};
    LessonReader reader(source, faults);
    reader.read(root, file);
    std::vector<std::string> messages = faults.messages();
    messages.insert(messages.end(), reader.messages().begin(), reader.messages().end());
    if (!messages.empty()) {
        throw ScenarioError(std::move(messages));
    }
    return file;
}

std::string lesson_keys_markdown() { return key_table_markdown(lesson_keys()); }

} // namespace sondeyard::scenarios
