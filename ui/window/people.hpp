// Who practises on this machine, and the attempts of the one who does now: the window's and the command line's hold on
// the store of progress. Where the store cannot be used everything goes on in memory, and `trouble` says why; what was
// to be kept waits, and is written when the store can be used again.
#pragma once

#include "field/progress.hpp"

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::ui {

class People {
public:
    // `data` is the data folder, empty: nothing is kept. Makes no file where there is nothing yet; takes older results
    // (results.jsonl, which stays as it is) over once. Never throws.
    explicit People(std::filesystem::path data, const field::StoreLimits& limits = {});

    const std::vector<field::Person>& all() const { return all_; }
    std::int64_t current() const { return current_; } // 0: nobody has practised yet
    std::string name() const;                         // of the current one
    bool nobody_named() const;                        // the next name given takes over what was worked before it
    const std::vector<field::Attempt>& attempts() const { return attempts_; } // of the current one, oldest first
    const std::string& trouble() const { return trouble_; }                   // one sentence, or empty
    const std::string& why_not() const { return why_not_; }                   // the store's own words in it
    std::vector<field::Attempt> attempts_of(std::int64_t person);             // throws field::ProgressError

    // Of the current person, who is made when there is none; with all that could not be kept before, in order. Else it
    // waits, attempts() has it all the same, and the text returned says so.
    std::string keep(const field::Attempt& attempt);
    std::size_t waiting() const { return unkept_.size(); } // attempts that are not kept yet
    // At the end of the program: tries once more. Empty, or what is lost to the store and where its work logs lie.
    std::string keep_at_last();
    // Each: an empty text, or one sentence about what went wrong; nothing has changed in the store then.
    std::string choose(std::int64_t person);
    std::string add(std::string_view name); // and chooses; the first name given takes over what was worked before it
    std::string remove(std::int64_t person, bool with_logs); // with all attempts, and with_logs their work logs
    // progress-NAME.csv in the data folder under a name that is still free; `written` names it.
    std::string export_csv(std::filesystem::path& written) const;

    std::filesystem::path log_path(const field::Attempt& attempt) const; // empty when it has none, or it is gone

private:
    struct Unkept {
        std::int64_t person = 0; // 0: of whoever is the first to be known
        field::Attempt attempt;
    };
    bool open(); // or makes the store; false when that cannot be, and it can be tried again
    std::string write_unkept();
    std::vector<field::Attempt> with_waiting(std::vector<field::Attempt> kept, std::int64_t person) const;
    void give_unkept_to(std::int64_t person);
    void take_over_results();
    void remember(std::int64_t person);
    field::Person ensure_current(); // needs the store

    std::filesystem::path data_;
    field::StoreLimits limits_;
    std::unique_ptr<field::ProgressStore> store_;
    std::vector<field::Person> all_;
    std::int64_t current_ = 0;
    std::vector<field::Attempt> attempts_;
    std::vector<Unkept> unkept_; // oldest first
    std::string trouble_;
    std::string why_not_;
};

inline constexpr std::string_view store_file = "progress.db";

} // namespace sondeyard::ui
