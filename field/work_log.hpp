// The work log: the append-only record of one exercise, from which it replays exactly. JSON Lines, UTF-8.
//
// Line 1 is the header: format, program version, the resolved scenario's text and its SHA-256, seed, instrument.
// Then, as they happen: a line a second with the hand's movements and a checkpoint of what was seen, such a line at
// once for every command, with the command in it, and an end line. Every line ends in the running hash  h_i =
// SHA-256(hex(h_{i-1}) "\n" line_without_hash "\n"), h_0 = SHA-256("sondeyard-work-log-1\n"), over the stored bytes.
// It makes changes evident, not impossible. A command is its word and its numbers: "frequency" hz, "mark" kind, "cable"
// m (what the cable hand was asked for, below 0 to pull back) and so on; the table is command_json in work_log.cpp. A
// new word leaves the format at 1, since a log without it reads as before.
#pragma once

#include "field/exercise.hpp"

#include <cstdio>
#include <filesystem>
#include <memory>
#include <stdexcept>

namespace sondeyard::field {

struct LogHeader {
    int format = 1;
    std::string program; // version that wrote it
    std::string scenario_toml;
    std::string scenario_sha256;
    std::uint64_t seed = 0;
    std::string instrument; // "tri-axis"
    bool operator==(const LogHeader&) const = default;
};

std::string sha256_hex(std::string_view text);

// What a checkpoint holds: enough to say where and by how much a replay differs.
struct Checkpoint {
    std::int64_t tick = 0; // state after this many ticks
    glm::dvec2 feet_m{0.0};
    glm::dvec2 tip_m{0.0};
    double signal_dbpt = 0.0;
    double dip_deg = 0.0;
    std::uint64_t digest = 0;
};
inline constexpr std::int64_t checkpoint_every_ticks = 60; // and one at once for every command

struct LogError : std::runtime_error {
    using std::runtime_error::runtime_error;
};

// Writes as it happens, flushed at every line: a crash loses at most the last second. Throws LogError when the file
// exists already (nothing is overwritten) or cannot be written; when the disk fills up later, `broken()` turns true
// and says why, and the exercise goes on.
class LogWriter {
public:
    LogWriter(const std::filesystem::path& path, const LogHeader& header);
    ~LogWriter();
    LogWriter(const LogWriter&) = delete;
    LogWriter& operator=(const LogWriter&) = delete;

    // To be called with every action given to step, and the observation and state it led to.
    void record(const Action& action, const Observation& seen, const ExerciseState& state);
    void end(const ExerciseState& state); // writes what is pending and the end line; further records are ignored
    const std::string& broken() const { return broken_; }

private:
    void flush_moves(const std::optional<Command>& command, const Observation& seen, const ExerciseState& state);
    void write_line(std::string json_without_hash);

    std::FILE* file_ = nullptr;
    std::string hash_;
    std::string broken_;
    std::string moves_;
    std::optional<Move> last_move_;
    std::int64_t moves_from_tick_ = 0;
    bool ended_ = false;
};

// A log read back. `fault` names the line and what is wrong when it was truncated or altered; all before it is kept.
struct WorkLog {
    LogHeader header;
    std::vector<Action> actions; // one a tick, tick 1 first
    std::vector<Checkpoint> checkpoints;
    bool ended = false; // has its end line
    std::string fault;  // empty: sound
    std::int64_t bytes = 0;
};

// Throws LogError when there is no usable header (names file, line, what was found, what is allowed).
WorkLog read_log(const std::filesystem::path& path);
WorkLog parse_log(std::string_view text, std::string_view name);

} // namespace sondeyard::field
