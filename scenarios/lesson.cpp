// Lesson files: the table of keys, the reader that goes by it, and the bundled course.
#include "scenarios/lesson.hpp"

#include "field/files.hpp"
#include "scenarios/reader.hpp"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <tuple>

namespace sondeyard::scenarios {

std::span<const BundledFile> bundled_lesson_files(); // generated at build time from lessons/

namespace {

constexpr int lesson_format = 1;
constexpr std::size_t fewest_steps = 3;
constexpr std::size_t most_steps = 12;
constexpr double largest_seed = 1e15;

// ---- The table of keys ----

enum class In { top, step, test, need }; // where a key may stand
constexpr std::array<std::string_view, 4> in_words = {"", "[[step]] ", "[test] ", "[[test.need]] "};

enum class LessonKind { text, number, whole, yes_no, yard, check };

struct LessonKey {
    In in = In::top;
    LessonKind kind = LessonKind::text;
    std::string_view key;
    double low = 0.0;
    double high = 0.0; // texts: most characters
    std::string_view unit;
    std::string_view left_out; // what holds then; empty: it may not be
    std::string_view meaning;
};

// clang-format off: one key a line, so that the table can be read as one
constexpr LessonKey lesson_keys[] = {
    {In::top, LessonKind::whole, "lesson_format", lesson_format, lesson_format, "", "", "version of this format"},
    {In::top, LessonKind::text, "title", 1, 60, "", "", "what the lesson is called"},
    {In::top, LessonKind::text, "goal", 1, 160, "", "", "what one can do after it, one sentence"},
    {In::top, LessonKind::text, "fact", 1, 300, "", "", "the figure that it teaches"},
    {In::top, LessonKind::text, "yard", 1, 80, "", "then `scenario` is given", "a bundled exercise"},
    {In::top, LessonKind::yard, "scenario", 1, 20000, "", "then `yard` is given", "a whole scenario as a text in three single quotes"},
    {In::top, LessonKind::whole, "seed", 0, largest_seed, "", "1", "of the yard"},
    {In::top, LessonKind::yes_no, "field_shown", 0, 0, "", "false", "the true field may be looked at in the guided part"},
    {In::step, LessonKind::text, "text", 1, 240, "", "", "what to do"},
    {In::step, LessonKind::text, "hint", 1, 240, "", "none", "how, for the first time through"},
    {In::step, LessonKind::text, "key", 1, 40, "", "none", "the command that does it, by its id"},
    {In::step, LessonKind::check, "done_when", 0, 0, "", "", "{ check = NAME, and its parameters }"},
    {In::step, LessonKind::yes_no, "leads_up", 0, 0, "", "false", "only the way to the next step that does not lead up: counts too as soon as that one is done"},
    {In::test, LessonKind::text, "task", 1, 300, "", "", "what is to be done, without saying how"},
    {In::test, LessonKind::text, "yard", 1, 80, "", "as above", "another bundled exercise"},
    {In::test, LessonKind::yard, "scenario", 1, 20000, "", "as above", "another yard, written as above"},
    {In::test, LessonKind::whole, "seed", 0, largest_seed, "", "", "of the test's yard; another than the lesson's"},
    {In::test, LessonKind::number, "locate_within_m", 0.05, 3, "m", "not asked", "the locate is so near to the sonde"},
    {In::test, LessonKind::number, "depth_within_percent", 1, 50, "%", "not asked", "the depth call is so near to the true depth"},
    {In::test, LessonKind::yes_no, "tilt_right", 0, 0, "", "false", "the tilt call is right"},
    {In::test, LessonKind::yes_no, "dig_on_pipe", 0, 0, "", "false", "the dig box would end on the pipe, and no safety item failed"},
    {In::test, LessonKind::yes_no, "dig_safe", 0, 0, "", "false", "there is a dig box, and no safety item failed"},
    {In::test, LessonKind::whole, "points_at_least", 1, 100, "", "not asked", "of 100"},
    {In::test, LessonKind::number, "time_at_most_s", 30, 3600, "s", "not asked", "from the first movement"},
    {In::need, LessonKind::text, "text", 1, 120, "", "", "what has to be done in the test, as the result names it"},
    {In::need, LessonKind::check, "done_when", 0, 0, "", "", "as in a step"},
};
// clang-format on

std::string allowed_for(const LessonKey& key) {
    switch (key.kind) {
    case LessonKind::text:
        return fmt::format("a text of 1 to {} characters", key.high);
    case LessonKind::number:
        return fmt::format("a number from {} to {}{}{}", key.low, key.high, key.unit.empty() ? "" : " ", key.unit);
    case LessonKind::whole:
        return key.low == key.high ? fmt::format("{}", key.low)
                                   : fmt::format("a whole number from {} to {:.0f}", key.low, key.high);
    case LessonKind::yes_no:
        return "true or false";
    case LessonKind::yard:
        return "a scenario, in three single quotes";
    case LessonKind::check:
        return "{ check = NAME, its parameters }";
    }
    return {};
}

const LessonKey* find_key(In in, std::string_view name) {
    const auto* const at =
        std::ranges::find_if(lesson_keys, [&](const LessonKey& k) { return k.in == in && k.key == name; });
    return at == std::ranges::end(lesson_keys) ? nullptr : at;
}

std::string keys_in(In in) {
    std::string all;
    for (const LessonKey& k : lesson_keys) {
        all += k.in == in ? fmt::format("{}{}", all.empty() ? "" : ", ", k.key) : "";
    }
    return all + (in == In::top ? ", [[step]], [test]" : in == In::test ? ", [[test.need]]" : "");
}

// ---- The reader ----

class LessonReader {
public:
    LessonReader(std::string_view text, std::string_view source) : text_(text), source_(source) {}

    void read(const toml::table& root, LessonFile& file) {
        keys(root, In::top, {"step", "test"});
        field::CourseLesson& lesson = file.lesson;
        lesson.title = text(root, In::top, "title");
        lesson.goal = text(root, In::top, "goal");
        lesson.fact = text(root, In::top, "fact");
        number(root, In::top, "lesson_format");
        file.seed = static_cast<std::uint64_t>(number(root, In::top, "seed").value_or(1.0));
        lesson.field_shown = yes_no(root, In::top, "field_shown");
        steps(root, lesson);
        const toml::table* test = root["test"].as_table();
        if (test == nullptr) {
            fault(root["test"].node() != nullptr ? *root["test"].node() : static_cast<const toml::node&>(root), "test",
                  "found no table [test]; allowed: one, with its task and seed");
        }
        yard(root, In::top, file.yard, true);
        file.test_yard = file.yard;
        if (test != nullptr) {
            keys(*test, In::test, {"need"});
            read_test(*test, file);
        }
    }

    void fault(const toml::node& node, std::string_view key, std::string_view words) {
        const auto at = node.source().begin;
        faults_.push_back(
            {at.line == 0 ? 1 : at.line, at.column == 0 ? 1 : at.column, std::string(key), std::string(words)});
    }
    void fault(std::uint32_t line, std::uint32_t column, std::string_view key, std::string_view words) {
        faults_.push_back({line, column, std::string(key), std::string(words)});
    }

    void throw_if_any() {
        if (faults_.empty() && whole_.empty()) {
            return;
        }
        std::ranges::sort(faults_, {}, [](const Fault& f) { return std::tuple(f.line, f.column, f.key); });
        std::vector<std::string> messages;
        messages.reserve(faults_.size() + whole_.size());
        for (const Fault& f : faults_) {
            messages.push_back(fmt::format("{}:{}:{}: {}: {}", source_, f.line, f.column, f.key, f.words));
        }
        messages.insert(messages.end(), whole_.begin(), whole_.end());
        throw ScenarioError(std::move(messages));
    }

private:
    struct Fault {
        std::uint32_t line = 1, column = 1;
        std::string key, words;
    };

    void keys(const toml::table& table, In in, std::initializer_list<std::string_view> tables) {
        for (const auto& [key, node] : table) {
            const bool known =
                find_key(in, key.str()) != nullptr || std::ranges::find(tables, key.str()) != tables.end();
            if (!known) {
                fault(key.source().begin.line, key.source().begin.column, key.str(),
                      fmt::format("found an unknown key; allowed here: {}", keys_in(in)));
            }
        }
    }

    // The node of a key, or nullptr; says so when it is needed and missing.
    const toml::node* wanted(const toml::table& table, In in, std::string_view name) {
        const toml::node* node = table.get(name);
        const LessonKey& key = *find_key(in, name);
        if (node == nullptr && key.left_out.empty()) {
            fault(table, fmt::format("{}{}", in_words[static_cast<std::size_t>(in)], name),
                  fmt::format("found nothing; allowed: {}", allowed_for(key)));
        }
        return node;
    }

    std::string text(const toml::table& table, In in, std::string_view name) {
        const toml::node* node = wanted(table, in, name);
        const LessonKey& key = *find_key(in, name);
        if (node == nullptr) {
            return {};
        }
        const auto* value = node->as_string();
        if (value == nullptr) {
            fault(*node, name, fmt::format("found {}; allowed: {}", found_text(*node), allowed_for(key)));
            return {};
        }
        if (value->get().empty() || static_cast<double>(value->get().size()) > key.high) {
            fault(*node, name,
                  fmt::format("found a text of {} characters; allowed: {}", value->get().size(), allowed_for(key)));
        }
        return value->get();
    }

    std::optional<double> number(const toml::table& table, In in, std::string_view name) {
        const toml::node* node = wanted(table, in, name);
        if (node == nullptr) {
            return std::nullopt;
        }
        const LessonKey& key = *find_key(in, name);
        const std::optional<double> value =
            key.kind == LessonKind::whole && !node->is_integer() ? std::nullopt : node->value<double>();
        if (!value || !std::isfinite(*value) || *value < key.low || *value > key.high) {
            fault(*node, name, fmt::format("found {}; allowed: {}", found_text(*node), allowed_for(key)));
            return std::nullopt;
        }
        return value;
    }

    bool yes_no(const toml::table& table, In in, std::string_view name) {
        const toml::node* node = wanted(table, in, name);
        if (node != nullptr && !node->is_boolean()) {
            fault(*node, name, fmt::format("found {}; allowed: true or false", found_text(*node)));
        }
        return node != nullptr && node->value_or(false);
    }

    // Every table of an array [[name]]; anything else is said.
    template <typename Use>
    std::size_t each(const toml::table& table, std::string_view name, Use use) {
        const toml::node* node = table.get(name);
        const auto* list = node != nullptr ? node->as_array() : nullptr;
        if (node != nullptr &&
            (list == nullptr || !std::ranges::all_of(*list, [](const toml::node& n) { return n.is_table(); }))) {
            fault(*node, name, fmt::format("found {}; allowed: tables, each written [[..]]", found_text(*node)));
            return 0;
        }
        if (list == nullptr) {
            return 0;
        }
        for (const toml::node& one : *list) {
            use(*one.as_table());
        }
        return list->size();
    }

    void steps(const toml::table& root, field::CourseLesson& lesson) {
        const std::size_t count = each(root, "step", [&](const toml::table& table) {
            keys(table, In::step, {});
            lesson.steps.push_back({.text = text(table, In::step, "text"),
                                    .hint = text(table, In::step, "hint"),
                                    .key = text(table, In::step, "key"),
                                    .done_when = check(table, In::step),
                                    .leads_up = yes_no(table, In::step, "leads_up")});
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

    field::Check check(const toml::table& table, In in) {
        const toml::node* node = wanted(table, in, "done_when");
        const auto* given = node != nullptr ? node->as_table() : nullptr;
        if (given == nullptr) {
            if (node != nullptr) {
                fault(*node, "done_when", fmt::format("found {}; allowed: {{ check = NAME, .. }}", found_text(*node)));
            }
            return {};
        }
        const toml::node* name = given->get("check");
        const std::string found = name != nullptr ? name->value_or(std::string()) : std::string();
        const field::CheckKind* kind = field::find_check(found);
        if (kind == nullptr) {
            std::vector<std::string_view> names;
            for (const field::CheckKind& one : field::check_kinds()) {
                names.push_back(one.name);
            }
            fault(name != nullptr ? *name : *node, "done_when.check",
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
                fault(key.source().begin.line, key.source().begin.column, fmt::format("done_when.{}", key.str()),
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
    void yard(const toml::table& table, In in, Scenario& into, bool needed) {
        const toml::node* by_name = table.get("yard");
        const toml::node* written = table.get("scenario");
        if ((by_name != nullptr) == (written != nullptr)) {
            if (needed || by_name != nullptr) {
                fault(by_name != nullptr ? *by_name : static_cast<const toml::node&>(table), "yard",
                      fmt::format("found {} of yard and scenario; allowed: one of them",
                                  by_name != nullptr ? "both" : "none"));
            }
            return;
        }
        const std::string value = text(table, in, by_name != nullptr ? "yard" : "scenario");
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
            whole_.insert(whole_.end(), e.messages.begin(), e.messages.end());
        }
    }

    void read_test(const toml::table& table, LessonFile& file) {
        field::LessonTest& test = file.lesson.test;
        test.task = text(table, In::test, "task");
        const std::optional<double> seed = number(table, In::test, "seed");
        file.test_seed = static_cast<std::uint64_t>(seed.value_or(2.0));
        yard(table, In::test, file.test_yard, false);
        if (seed && file.test_seed == file.seed && table.get("yard") == nullptr && table.get("scenario") == nullptr) {
            fault(*table.get("seed"), "seed",
                  "found the lesson's own seed; allowed: another, so that it is another yard");
        }
        test.locate_within_m = number(table, In::test, "locate_within_m");
        test.depth_within_percent = number(table, In::test, "depth_within_percent");
        test.tilt_right = yes_no(table, In::test, "tilt_right");
        test.dig_on_pipe = yes_no(table, In::test, "dig_on_pipe");
        test.dig_safe = yes_no(table, In::test, "dig_safe");
        if (const auto points = number(table, In::test, "points_at_least")) {
            test.points_at_least = static_cast<int>(*points);
        }
        test.time_at_most_s = number(table, In::test, "time_at_most_s");
        each(table, "need", [&](const toml::table& one) {
            keys(one, In::need, {});
            test.needs.push_back({text(one, In::need, "text"), check(one, In::need)});
        });
        const bool asks = test.locate_within_m || test.depth_within_percent || test.tilt_right || test.dig_on_pipe ||
                          test.dig_safe || test.points_at_least || !test.needs.empty();
        if (!asks) {
            fault(table, "test",
                  "found nothing that is asked for; allowed: a threshold or a [[test.need]], one at least");
        }
    }

    std::string_view text_;
    std::string_view source_;
    std::vector<Fault> faults_;
    std::vector<std::string> whole_; // messages of a yard, whole
};

const BundledFile* find_bundled_lesson(std::string_view name) {
    const auto files = bundled_lesson_files();
    const auto at = std::ranges::find(files, name, &BundledFile::name);
    return at == files.end() ? nullptr : &*at;
}

} // namespace

bool is_lesson(std::string_view text) {
    for (std::size_t at = 0; at < text.size();) { // line by line: it may not be whole TOML
        const std::size_t end = std::min(text.find('\n', at), text.size());
        std::string_view line = text.substr(at, end - at);
        line.remove_prefix(std::min(line.find_first_not_of(" \t"), line.size()));
        if (line.starts_with("lesson_format")) {
            return true;
        }
        at = end + 1;
    }
    return false;
}

LessonFile parse_lesson(std::string_view text, std::string_view source) {
    toml::table root;
    try {
        root = toml::parse(text, source);
    } catch (const toml::parse_error& e) {
        throw ScenarioError({fmt::format("{}:{}:{}: file: found what is not TOML ({}); allowed: a lesson file (TOML)",
                                         source, e.source().begin.line, e.source().begin.column, e.description())});
    }
    const Scenario empty("", "", nullptr);
    LessonFile file{.lesson = {}, .yard = empty, .seed = 1, .test_yard = empty, .test_seed = 2};
    file.lesson.name = std::filesystem::path(source).stem().string();
    LessonReader reader(text, source);
    reader.read(root, file);
    reader.throw_if_any();
    return file;
}

LessonFile load_lesson(const std::filesystem::path& file) {
    try {
        return parse_lesson(field::read_file(file, largest_file_bytes, "a lesson file"), file.string());
    } catch (const field::FileError& e) {
        throw ScenarioError({e.what()});
    }
}

std::vector<std::string> bundled_lesson_names() {
    std::vector<std::string> names;
    for (const BundledFile& file : bundled_lesson_files()) {
        names.emplace_back(file.name);
    }
    return names;
}

LessonFile bundled_lesson(std::string_view name) {
    const BundledFile* file = find_bundled_lesson(name);
    if (file == nullptr) {
        throw std::out_of_range(fmt::format("no bundled lesson is named \"{}\"", name));
    }
    return parse_lesson(file->text, fmt::format("{}.toml", name));
}

LessonFile find_lesson(const std::string& path_or_name) {
    std::error_code error;
    if (!std::filesystem::exists(path_or_name, error)) {
        if (find_bundled_lesson(path_or_name) != nullptr) {
            return bundled_lesson(path_or_name);
        }
        throw ScenarioError(
            {fmt::format("{0}:1:1: lesson: found neither a file nor a bundled lesson \"{0}\"; allowed: a "
                         "lesson file (TOML), or one of {1}",
                         path_or_name, fmt::join(bundled_lesson_names(), ", "))});
    }
    return load_lesson(path_or_name);
}

std::string lesson_keys_markdown() {
    std::string out = "| key | value | left out | meaning |\n| --- | --- | --- | --- |\n";
    for (const LessonKey& key : lesson_keys) {
        out += fmt::format("| `{}{}` | {} | {} | {} |\n", in_words[static_cast<std::size_t>(key.in)], key.key,
                           allowed_for(key), key.left_out.empty() ? "never" : key.left_out, key.meaning);
    }
    return out;
}

} // namespace sondeyard::scenarios
