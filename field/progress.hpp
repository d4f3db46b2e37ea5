// Progress kept: who practises on this machine and what came of every attempt. One interface, so that another database
// can stand behind it; the one here is SQLite in a single file, of the user alone, with nothing sent anywhere.
//
// Nothing that goes wrong with the file loses an attempt that was kept before, and a file that cannot be used (damaged,
// of a newer version, another program's) is left as it is.
#pragma once

#include "field/score.hpp"

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::field {

struct ProgressError
    : std::runtime_error { // "path: what is wrong; what follows from it", one sentence without its stop
    using std::runtime_error::runtime_error;
};

struct Person {
    std::int64_t id = 0;
    std::string name; // UTF-8, not empty, one of a kind
    bool operator==(const Person&) const = default;
};
inline constexpr std::size_t longest_name = 80; // characters
// Whoever practised before anyone gave a name. The first name given takes his place.
inline constexpr std::string_view unnamed_person = "Trainee";

// The name without blanks round it; throws ProgressError when nothing is left, it is longer than longest_name, no
// UTF-8, or has control characters in it.
std::string checked_name(std::string_view name);

// The points of a score by its parts; full points are in score.hpp.
struct PartPoints {
    int position = 0;
    int depth = 0;
    int tilt = 0;
    int dig = 0;
    int procedure = 0;
    bool operator==(const PartPoints&) const = default;
};

// One exercise or lesson worked to its end. What was not judged, or was not known to an older program, is empty.
struct Attempt {
    std::int64_t id = 0;  // given by the store, rising in the order of work
    std::string exercise; // bundled name, "file:" and a file's name without its ending, or "lesson:" and a lesson's
    std::uint64_t seed = 0;
    int points = 0; // of 100
    bool passed = false;
    std::string date; // "2026-03-01 14:05", local time, said by the caller
    std::string log;  // file name of its work log; empty: none
    std::optional<PartPoints> parts;
    std::optional<double> error_m;       // in plan
    std::optional<double> error_share;   // of the true depth
    std::optional<double> depth_error_m; // reported minus true
    std::optional<bool> tilt_right;
    std::optional<double> duration_s;
    std::vector<std::string> missed;                  // keys of the procedure's items that apply and were not done
    std::optional<std::vector<std::string>> findings; // keys of what a coach found; empty when none looked at it
    bool operator==(const Attempt&) const = default;
};
inline constexpr std::string_view lesson_prefix = "lesson:";

// What a score says of an attempt; exercise, seed, date, log and findings are the caller's.
Attempt attempt_of(const Score& score, const ExerciseState& state);

class ProgressStore {
public:
    ProgressStore() = default;
    virtual ~ProgressStore() = default;
    ProgressStore(const ProgressStore&) = delete;
    ProgressStore& operator=(const ProgressStore&) = delete;

    // All throw ProgressError, and have changed nothing then.
    virtual std::vector<Person> people() = 0; // in the order in which they came
    virtual Person add_person(std::string_view name) = 0;
    virtual void rename_person(std::int64_t id, std::string_view name) = 0;
    virtual std::vector<Attempt> attempts(std::int64_t person) = 0; // oldest first
    // All of them or none; `note` is set with them when it is not empty. Ids are given in their order.
    virtual void add_attempts(std::int64_t person, std::span<const Attempt> attempts, std::string_view note = {}) = 0;
    // With all attempts; what was there is overwritten with zeros in the file.
    virtual void delete_person(std::int64_t id) = 0;
    // Small things to be remembered, by name. Empty when there is none.
    virtual std::string note(std::string_view name) = 0;
    virtual void set_note(std::string_view name, std::string_view value) = 0;
};

struct StoreLimits {
    int busy_ms = 1000;                  // how long another program that writes is waited for
    std::int64_t most_bytes = 1LL << 30; // beyond it the store is full
};
inline constexpr int store_version = 2;

// Opens the file, makes it (and its folder) when there is none, and brings an older one up to store_version.
// Throws ProgressError when it cannot be used.
std::unique_ptr<ProgressStore> open_progress(const std::filesystem::path& file, const StoreLimits& limits = {});

// RFC 4180: comma-separated, CRLF, a header line; UTF-8; SI units. A text that a spreadsheet would take for a formula
// (it begins with = + - @, a tab or a carriage return) gets an apostrophe in front; numbers are numbers.
std::string progress_csv(std::string_view person, std::span<const Attempt> attempts);

} // namespace sondeyard::field
