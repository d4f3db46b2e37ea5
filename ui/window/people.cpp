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

People::People(fs::path data) : data_(std::move(data)) {
    std::error_code ignored;
    if (!data_.empty() && (fs::exists(data_ / store_file, ignored) || fs::exists(data_ / old_results, ignored))) {
        open();
    }
}

bool People::open() {
    if (store_ || data_.empty() || !trouble_.empty()) {
        return store_ != nullptr;
    }
    try {
        store_ = field::open_progress(data_ / store_file);
        all_ = store_->people();
        current_ = number_in(store_->note(current_note));
        if (std::ranges::find(all_, current_, &field::Person::id) == all_.end()) {
            current_ = all_.empty() ? 0 : all_.front().id;
        }
        take_over_results();
        if (current_ != 0) {
            attempts_ = store_->attempts(current_);
        }
    } catch (const std::exception& e) {
        store_.reset();
        all_.clear();
        current_ = 0;
        attempts_.clear();
        why_not_ = e.what();
        trouble_ = fmt::format("Progress is kept only while this window is open: {}.", e.what());
    }
    return store_ != nullptr;
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
    field::Person made{1, std::string(field::unnamed_person)};
    if (store_) {
        made = store_->add_person(field::unnamed_person);
    }
    all_.push_back(made);
    current_ = made.id;
    return made;
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
    std::string why_not = data_.empty() ? std::string(no_home) : std::string();
    try {
        if (open()) {
            const std::int64_t person = ensure_current().id;
            store_->add_attempts(person, std::span(&attempt, 1));
            attempts_ = store_->attempts(person);
            return {};
        }
        if (why_not.empty()) {
            why_not = "the store of progress cannot be used";
        }
    } catch (const std::exception& e) {
        why_not = e.what();
    }
    attempts_.push_back(attempt);
    return fmt::format("The result is not kept: {}.", why_not);
}

std::string People::choose(std::int64_t person) {
    try {
        if (store_) {
            attempts_ = store_->attempts(person);
        }
        current_ = person;
    } catch (const std::exception& e) {
        return fmt::format("The attempts cannot be read: {}.", e.what());
    }
    remember(person);
    return {};
}

std::string People::add(std::string_view name) {
    try {
        if (!open()) {
            return trouble_.empty() ? fmt::format("Nobody can be added: {}.", no_home) : trouble_;
        }
        if (all_.size() == 1 && all_.front().name == field::unnamed_person) {
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
        for (const field::Attempt& a : attempts_of(person)) {
            if (fs::path log = log_path(a); with_logs && !log.empty()) {
                logs.push_back(std::move(log));
            }
        }
        store_->delete_person(person);
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
