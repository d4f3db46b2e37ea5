#include "ui/window/people.hpp"

#include "field/files.hpp"
#include "ui/window/settings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <system_error>
#include <utility>

namespace sondeyard::ui {

namespace fs = std::filesystem;

namespace {

constexpr std::string_view current_note = "current person";
constexpr std::string_view taken_over_note = "results.jsonl taken over";
constexpr std::string_view old_results = "results.jsonl";

std::int64_t number_in(const std::string& text) {
    std::int64_t value = 0;
    std::from_chars(text.data(), text.data() + text.size(), value);
    return value;
}

} // namespace

People::People(fs::path data, const field::StoreLimits& limits) : data_(std::move(data)), limits_(limits) {
    std::error_code ignored;
    if (!data_.empty() && (fs::exists(data_ / store_file, ignored) || fs::exists(data_ / old_results, ignored))) {
        open();
    }
}

bool People::open() {
    if (store_ || data_.empty()) {
        return store_ != nullptr;
    }
    try {
        store_ = field::open_progress(data_ / store_file, limits_);
        all_ = store_->people();
        current_ = number_in(store_->note(current_note));
        if (std::ranges::find(all_, current_, &field::Person::id) == all_.end()) {
            current_ = all_.empty() ? 0 : all_.front().id;
        }
        take_over_results();
        if (current_ != 0) {
            give_unkept_to(current_);
            attempts_ = with_waiting(store_->attempts(current_), current_);
        }
        why_not_.clear();
        trouble_.clear();
    } catch (const std::exception& e) {
        store_.reset();
        all_.clear();
        current_ = 0;
        attempts_ = with_waiting({}, current_);
        why_not_ = e.what();
        trouble_ = fmt::format("Progress is not kept for now: {}. It is tried again with every result.", e.what());
    }
    return store_ != nullptr;
}

// Attempts out of the store, and behind them those that wait for it.
std::vector<field::Attempt> People::with_waiting(std::vector<field::Attempt> kept, std::int64_t person) const {
    for (const Unkept& u : unkept_) {
        if (u.person == person) {
            kept.push_back(u.attempt);
        }
    }
    return kept;
}

// What was worked while nobody was known is the work of the first who is.
void People::give_unkept_to(std::int64_t person) {
    for (Unkept& u : unkept_) {
        u.person = u.person == 0 ? person : u.person;
    }
}

void People::take_over_results() {
    std::error_code ignored;
    if (!fs::exists(data_ / old_results, ignored) || !store_->note(taken_over_note).empty()) {
        return;
    }
    const std::vector<field::Attempt> results = load_results(data_ / old_results);
    if (!results.empty()) {
        store_->add_attempts(ensure_current().id, results, taken_over_note);
    }
}

field::Person People::ensure_current() {
    if (current_ != 0) {
        return *std::ranges::find(all_, current_, &field::Person::id);
    }
    all_.push_back(store_->add_person(field::unnamed_person));
    current_ = all_.back().id;
    return all_.back();
}

std::string People::name() const {
    const auto found = std::ranges::find(all_, current_, &field::Person::id);
    return found == all_.end() ? std::string(field::unnamed_person) : found->name;
}

// The list of who was chosen last is a convenience: without it the program begins with the first.
void People::remember(std::int64_t person) {
    try {
        if (store_) {
            store_->set_note(current_note, fmt::to_string(person));
        }
    } catch (const field::ProgressError&) {
        return;
    }
}

std::string People::keep(const field::Attempt& attempt) {
    unkept_.push_back({current_, attempt});
    attempts_.push_back(attempt);
    const std::string why_not = write_unkept();
    if (unkept_.empty()) {
        return {};
    }
    if (data_.empty()) {
        return fmt::format("The result is not kept: {}.", why_not);
    }
    return fmt::format("{} not kept yet: {}. It is tried again with the next result, and when the program ends.",
                       unkept_.size() == 1 ? std::string("The result is")
                                           : fmt::format("The results of the last {} attempts are", unkept_.size()),
                       why_not);
}

// One transaction for each person, and nobody's waits for another's. Returns why some are still not kept.
std::string People::write_unkept() {
    if (!open()) {
        return data_.empty() ? std::string(no_home) : why_not_;
    }
    std::string why_not;
    try {
        give_unkept_to(ensure_current().id);
        std::vector<std::int64_t> whose;
        for (const Unkept& u : unkept_) {
            if (std::ranges::find(whose, u.person) == whose.end()) {
                whose.push_back(u.person);
            }
        }
        for (const std::int64_t person : whose) {
            try {
                std::vector<field::Attempt> theirs;
                for (const Unkept& u : unkept_) {
                    if (u.person == person) {
                        theirs.push_back(u.attempt);
                    }
                }
                store_->add_attempts(person, theirs);
                std::erase_if(unkept_, [&](const Unkept& u) { return u.person == person; });
            } catch (const field::ProgressError& e) {
                why_not = e.what();
            }
        }
        attempts_ = with_waiting(store_->attempts(current_),
                                 current_); // else, those in memory say the same but for the store's numbers
    } catch (const std::exception& e) {
        why_not = e.what();
    }
    return why_not;
}

std::string People::keep_at_last() {
    if (unkept_.empty() || data_.empty()) {
        return {};
    }
    const std::string why_not = write_unkept();
    if (unkept_.empty()) {
        return {};
    }
    std::string text = fmt::format("{} not kept: {}.", unkept_.size() == 1 ? "A result is" : "Results are", why_not);
    bool logged = false;
    for (const Unkept& u : unkept_) {
        const fs::path log = log_path(u.attempt);
        logged = logged || !log.empty();
        text += fmt::format("\n  {}, {}, {} points: {}", u.attempt.date, u.attempt.exercise, u.attempt.points,
                            log.empty() ? std::string("no work log") : log.string());
    }
    return text + (logged
                       ? "\nThe work logs hold all that was done; \"sondeyard score FILE\" works the result out again."
                       : "");
}

std::string People::choose(std::int64_t person) {
    try {
        std::vector<field::Attempt> kept = attempts_of(person);
        give_unkept_to(person);
        attempts_ = with_waiting(std::move(kept), person);
        current_ = person;
    } catch (const std::exception& e) {
        return fmt::format("The attempts cannot be read: {}.", e.what());
    }
    remember(person);
    return {};
}

bool People::nobody_named() const {
    return all_.empty() || (all_.size() == 1 && all_.front().name == field::unnamed_person);
}

std::string People::add(std::string_view name) {
    try {
        if (!open()) {
            return trouble_.empty() ? fmt::format("Nobody can be added: {}.", no_home) : trouble_;
        }
        if (!all_.empty() && nobody_named()) {
            store_->rename_person(all_.front().id, name);
            all_ = store_->people();
            return choose(all_.front().id);
        }
        const std::int64_t added = store_->add_person(name).id;
        all_ = store_->people();
        return choose(added);
    } catch (const std::exception& e) {
        return fmt::format("Not added: {}.", e.what());
    }
}

std::vector<field::Attempt> People::attempts_of(std::int64_t person) {
    return store_ ? store_->attempts(person) : std::vector<field::Attempt>();
}

std::string People::remove(std::int64_t person, bool with_logs) {
    if (!store_) {
        return "There is nothing to delete.";
    }
    std::vector<fs::path> logs;
    try {
        for (const field::Attempt& a : with_waiting(attempts_of(person), person)) {
            if (fs::path log = log_path(a); with_logs && !log.empty()) {
                logs.push_back(std::move(log));
            }
        }
        store_->delete_person(person);
        std::erase_if(unkept_, [&](const Unkept& u) { return u.person == person; });
        all_ = store_->people();
    } catch (const std::exception& e) {
        return fmt::format("Nothing was deleted: {}.", e.what());
    }
    std::string trouble;
    if (person == current_) {
        current_ = 0;
        attempts_.clear();
        trouble = all_.empty() ? std::string() : choose(all_.front().id);
    }
    for (const fs::path& log : logs) {
        std::error_code error;
        fs::remove(log, error);
        if (error) {
            trouble = fmt::format("{} is still there: {}.", log.string(), error.message());
        }
    }
    return trouble;
}

std::string People::export_csv(fs::path& written) const {
    if (data_.empty()) {
        return fmt::format("Nothing is exported: {}.", no_home);
    }
    try {
        fs::create_directories(data_);
        const std::string stem = "progress-" + file_stem_of(name());
        written = data_ / (stem + ".csv");
        for (int n = 2; fs::exists(written); ++n) {
            written = data_ / fmt::format("{}-{}.csv", stem, n);
        }
        field::write_new_file(written, field::progress_csv(name(), attempts_));
    } catch (const std::exception& e) {
        return fmt::format("Nothing is exported: {}.", e.what());
    }
    return {};
}

fs::path People::log_path(const field::Attempt& attempt) const {
    const bool plain_name = !attempt.log.empty() && fs::path(attempt.log).filename() == attempt.log;
    if (data_.empty() || !plain_name) {
        return {};
    }
    std::error_code ignored;
    fs::path path = data_ / "logs" / attempt.log;
    return fs::is_regular_file(path, ignored) ? path : fs::path();
}

} // namespace sondeyard::ui
