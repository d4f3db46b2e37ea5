#include "field/work_log.hpp"

#include "field/files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <sodium.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <utility>

namespace sondeyard::field {

namespace {

using Json = nlohmann::json;

constexpr std::string_view hash_seed = "sondeyard-work-log-1\n";
constexpr std::uintmax_t largest_log_bytes = 256ULL << 20U;

std::string next_hash(std::string_view before, std::string_view line_without_hash) {
    return sha256_hex(fmt::format("{}\n{}\n", before, line_without_hash));
}

// A command and its word in the log, with how its numbers are written and read. One entry each; a new command is a
// new line.
std::string command_json(const Command& command) {
    struct Writer {
        std::string operator()(const SetFrequency& c) const {
            return fmt::format(R"("frequency","hz":{})", c.frequency_hz);
        }
        std::string operator()(const TurnCoil& c) const {
            return fmt::format(R"("coil","attitude":"{}")",
                               c.attitude == sim::CoilAttitude::level ? "level" : "upright");
        }
        std::string operator()(const SetBandwidth& c) const {
            return fmt::format(R"("bandwidth","setting":"{}")", sim::name_of(c.bandwidth));
        }
        std::string operator()(const TruckCheck& /*c*/) const { return R"("truck check")"; }
        std::string operator()(const ReadTicket& /*c*/) const { return R"("read ticket")"; }
        std::string operator()(const PlaceMark& c) const {
            return fmt::format(R"("mark","kind":"{}")", name_of(c.kind));
        }
        std::string operator()(const MoveMark& c) const { return fmt::format(R"("move mark","id":{})", c.id); }
        std::string operator()(const TakeBack& c) const {
            return fmt::format(R"("take back","kind":"{}")", name_of(c.kind));
        }
        std::string operator()(const ReadDepth& /*c*/) const { return R"("read depth")"; }
        std::string operator()(const DeleteReading& c) const {
            return fmt::format(R"("delete reading","id":{})", c.id);
        }
        std::string operator()(const CallDepth& c) const { return fmt::format(R"("call depth","m":{})", c.depth_m); }
        std::string operator()(const CallTilt& c) const {
            const std::string angle = c.tilt_deg ? fmt::format(R"(,"deg":{})", *c.tilt_deg) : std::string();
            return fmt::format(R"("call tilt","tilt":"{}","raised_deg":{}{})", name_of(c.call), c.raised_heading_deg,
                               angle);
        }
        std::string operator()(const ProposeDig& c) const {
            return fmt::format(
                R"("dig","x":{},"y":{},"heading_deg":{},"length_m":{},"width_m":{},"depth_m":{},"method":"{}")",
                c.box.centre_m.x, c.box.centre_m.y, c.box.heading_deg, c.box.length_m, c.box.width_m, c.box.depth_m,
                name_of(c.box.method));
        }
        std::string operator()(const TakeBackDig& /*c*/) const { return R"("take back dig")"; }
        std::string operator()(const TurnBy& c) const { return fmt::format(R"("turn by","deg":{})", c.angle_deg); }
        std::string operator()(const AskCable& c) const { return fmt::format(R"("cable","m":{})", c.by_m); }
        std::string operator()(const Undo& /*c*/) const { return R"("undo")"; }
        std::string operator()(const Finish& /*c*/) const { return R"("finish")"; }
    };
    return std::visit(Writer{}, command);
}

template <typename Enum>
Enum enum_of(const Json& word, std::initializer_list<Enum> all) {
    const auto text = word.get<std::string>();
    for (const Enum e : all) {
        if (name_of(e) == text) {
            return e;
        }
    }
    throw LogError(fmt::format("\"{}\" is not a word for this", text));
}

MarkKind mark_kind(const Json& word) {
    return enum_of(word, {MarkKind::plumb, MarkKind::level, MarkKind::peak, MarkKind::locate});
}

Command command_of(const Json& line) {
    const auto word = line.at("command").get<std::string>();
    if (word == "frequency") {
        return SetFrequency{line.at("hz").get<double>()};
    }
    if (word == "coil") {
        return TurnCoil{line.at("attitude") == "level" ? sim::CoilAttitude::level : sim::CoilAttitude::upright};
    }
    if (word == "bandwidth") {
        return SetBandwidth{enum_of(line.at("setting"), {sim::Bandwidth::narrow, sim::Bandwidth::wide})};
    }
    if (word == "truck check") {
        return TruckCheck{};
    }
    if (word == "read ticket") {
        return ReadTicket{};
    }
    if (word == "mark") {
        return PlaceMark{mark_kind(line.at("kind"))};
    }
    if (word == "move mark") {
        return MoveMark{line.at("id").get<int>()};
    }
    if (word == "take back") {
        return TakeBack{mark_kind(line.at("kind"))};
    }
    if (word == "read depth") {
        return ReadDepth{};
    }
    if (word == "delete reading") {
        return DeleteReading{line.at("id").get<int>()};
    }
    if (word == "call depth") {
        return CallDepth{line.at("m").get<double>()};
    }
    if (word == "call tilt") {
        const TiltCall call =
            enum_of(line.at("tilt"), {TiltCall::none, TiltCall::level, TiltCall::tilted, TiltCall::on_end});
        const auto deg = line.find("deg");
        return CallTilt{call, line.at("raised_deg").get<double>(),
                        deg == line.end() ? std::nullopt : std::optional(deg->get<double>())};
    }
    if (word == "dig") {
        DigBox box;
        box.centre_m = {line.at("x").get<double>(), line.at("y").get<double>()};
        box.heading_deg = line.at("heading_deg").get<double>();
        box.length_m = line.at("length_m").get<double>();
        box.width_m = line.at("width_m").get<double>();
        box.depth_m = line.at("depth_m").get<double>();
        box.method =
            enum_of(line.at("method"), {DigMethod::none, DigMethod::machine, DigMethod::hand, DigMethod::vacuum});
        return ProposeDig{box};
    }
    if (word == "take back dig") {
        return TakeBackDig{};
    }
    if (word == "turn by") {
        return TurnBy{line.at("deg").get<double>()};
    }
    if (word == "cable") {
        return AskCable{line.at("m").get<double>()};
    }
    if (word == "undo") {
        return Undo{};
    }
    if (word == "finish") {
        return Finish{};
    }
    throw LogError(fmt::format("\"{}\" is not a command", word));
}

bool same_move(const Move& a, const Move& b) {
    return a.hand_m == b.hand_m && a.hand_height_m == b.hand_height_m && a.turn == b.turn &&
           a.lean_forward == b.lean_forward && a.lean_right == b.lean_right && a.slow == b.slow;
}

bool only_hand_differs(const Move& a, const Move& b) {
    Move moved = a;
    moved.hand_m = b.hand_m;
    return same_move(moved, b);
}

long long thousandths(double value) { return std::llround(value * 1000.0); }
long long hundredths(double value) { return std::llround(value * 100.0); }

std::string seen_json(const Observation& seen, const ExerciseState& state) {
    return fmt::format(
        R"("seen":{{"feet":[{:.6f},{:.6f}],"tip":[{:.6f},{:.6f}],"dbpt":{:.3f},"dip":{:.3f}}},"digest":"{:016x}")",
        seen.feet_m.x, seen.feet_m.y, seen.tip_m.x, seen.tip_m.y, seen.signal_dbpt, seen.has_axis ? seen.dip_deg : 0.0,
        state.digest);
}

} // namespace

std::string sha256_hex(std::string_view text) {
    std::array<unsigned char, crypto_hash_sha256_BYTES> raw{};
    crypto_hash_sha256(raw.data(), reinterpret_cast<const unsigned char*>(text.data()), text.size());
    std::string hex(2 * raw.size() + 1, '\0');
    sodium_bin2hex(hex.data(), hex.size(), raw.data(), raw.size());
    hex.pop_back();
    return hex;
}

// ---- Writing ----

LogWriter::LogWriter(const std::filesystem::path& path, const LogHeader& header) : hash_(sha256_hex(hash_seed)) {
    const int fd = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
    if (fd < 0) {
        const int error = errno;
        throw LogError(error == EEXIST
                           ? fmt::format("{}: there is a file of this name already; a work log is never written over",
                                         path.string())
                           : fmt::format("{}: cannot be written: {}", path.string(), std::strerror(error)));
    }
    file_ = ::fdopen(fd, "w");
    if (file_ == nullptr) {
        ::close(fd);
        ::unlink(path.c_str());
        throw LogError(fmt::format("{}: cannot be written: {}", path.string(), std::strerror(errno)));
    }
    const Json line = {{"sondeyard_log", header.format},
                       {"program", header.program},
                       {"seed", header.seed},
                       {"instrument", header.instrument},
                       {"scenario_sha256", header.scenario_sha256},
                       {"scenario", header.scenario_toml}};
    write_line(line.dump());
    if (!broken_.empty()) {
        std::fclose(std::exchange(file_, nullptr));
        ::unlink(path.c_str()); // a log without a header would only stand in the way of the next try
        throw LogError(fmt::format("{}: {}", path.string(), broken_));
    }
}

LogWriter::~LogWriter() {
    if (file_ != nullptr) {
        std::fclose(file_);
    }
}

void LogWriter::write_line(std::string json_without_hash) {
    if (!broken_.empty() || file_ == nullptr) {
        return;
    }
    hash_ = next_hash(hash_, json_without_hash);
    json_without_hash.pop_back(); // the closing brace
    const std::string line = fmt::format("{},\"hash\":\"{}\"}}\n", json_without_hash, hash_);
    if (std::fwrite(line.data(), 1, line.size(), file_) != line.size() || std::fflush(file_) != 0) {
        broken_ = fmt::format("the work log stops here: {}", std::strerror(errno));
    }
}

void LogWriter::flush_moves(const std::optional<Command>& command, const Observation& seen,
                            const ExerciseState& state) {
    const std::string did = command ? fmt::format(R"("command":{},)", command_json(*command)) : std::string();
    write_line(fmt::format(R"({{"tick":{},"from":{},{}"moves":[{}],{}}})", state.tick, moves_from_tick_, did, moves_,
                           seen_json(seen, state)));
    moves_.clear();
    moves_from_tick_ = state.tick;
}

void LogWriter::record(const Action& action, const Observation& seen, const ExerciseState& state) {
    if (ended_) {
        return;
    }
    const Action logged = on_log_grid(action);
    const Move& m = logged.move;
    if (!last_move_ || !same_move(*last_move_, m)) {
        const auto after = state.tick - moves_from_tick_;
        moves_ += moves_.empty() ? "" : ",";
        if (last_move_ && only_hand_differs(*last_move_, m)) {
            moves_ += fmt::format("[{},{},{}]", after, thousandths(m.hand_m.x), thousandths(m.hand_m.y));
        } else {
            moves_ += fmt::format("[{},{},{},{},{},{},{},{}]", after, thousandths(m.hand_m.x), thousandths(m.hand_m.y),
                                  thousandths(m.hand_height_m), hundredths(m.turn), hundredths(m.lean_forward),
                                  hundredths(m.lean_right), m.slow ? 1 : 0);
        }
        last_move_ = m;
    }
    if (logged.command || state.tick - moves_from_tick_ >= checkpoint_every_ticks) {
        flush_moves(logged.command, seen, state);
    }
}

void LogWriter::end(const ExerciseState& state) {
    if (std::exchange(ended_, true)) {
        return;
    }
    if (state.tick > moves_from_tick_) {
        write_line(fmt::format(R"({{"tick":{},"from":{},"moves":[{}]}})", state.tick, moves_from_tick_, moves_));
    }
    write_line(fmt::format(R"({{"tick":{},"end":"{}"}})", state.tick, state.finished_tick ? "finished" : "left"));
}

// ---- Reading ----

namespace {

// Takes the hash member off a stored line: the bytes that were hashed, and the hash. Empty when there is none.
std::optional<std::pair<std::string, std::string_view>> split_hash(std::string_view line) {
    constexpr std::string_view mark = ",\"hash\":\"";
    constexpr std::size_t tail = mark.size() + 64 + 2; // ,"hash":"<64>"}
    if (line.size() <= tail || line.substr(line.size() - tail, mark.size()) != mark || !line.ends_with("\"}")) {
        return std::nullopt;
    }
    return std::pair{std::string(line.substr(0, line.size() - tail)) + "}", line.substr(line.size() - 66, 64)};
}

LogHeader header_of(const Json& line, std::string_view name) {
    const auto fail = [&](const std::string& what) -> LogError {
        return LogError(fmt::format("{}:1: {}", name, what));
    };
    if (!line.is_object() || !line.contains("sondeyard_log")) {
        throw fail("this is not a work log: its first line has no \"sondeyard_log\"");
    }
    if (line.at("sondeyard_log") != 1) {
        throw fail(fmt::format("work log format {}; this program reads format 1", line.at("sondeyard_log").dump()));
    }
    try {
        return {1,
                line.at("program").get<std::string>(),
                line.at("scenario").get<std::string>(),
                line.at("scenario_sha256").get<std::string>(),
                line.at("seed").get<std::uint64_t>(),
                line.at("instrument").get<std::string>()};
    } catch (const Json::exception& e) {
        throw fail(fmt::format("the header is incomplete: {}", e.what()));
    }
}

Move move_of(const Json& entry, const Move& before) {
    const auto number = [&](std::size_t i) { return entry.at(i).get<std::int64_t>(); };
    if (entry.size() != 3 && entry.size() != 8) {
        throw LogError("a movement has 3 or 8 numbers");
    }
    Move m = before;
    m.hand_m = {static_cast<double>(number(1)) / 1000.0, static_cast<double>(number(2)) / 1000.0};
    if (entry.size() == 8) {
        m.hand_height_m = static_cast<double>(number(3)) / 1000.0;
        m.turn = static_cast<double>(number(4)) / 100.0;
        m.lean_forward = static_cast<double>(number(5)) / 100.0;
        m.lean_right = static_cast<double>(number(6)) / 100.0;
        m.slow = number(7) != 0;
    }
    return m;
}

Checkpoint checkpoint_of(const Json& line) {
    const Json& seen = line.at("seen");
    Checkpoint c;
    c.tick = line.at("tick").get<std::int64_t>();
    c.feet_m = {seen.at("feet").at(0).get<double>(), seen.at("feet").at(1).get<double>()};
    c.tip_m = {seen.at("tip").at(0).get<double>(), seen.at("tip").at(1).get<double>()};
    c.signal_dbpt = seen.at("dbpt").get<double>();
    c.dip_deg = seen.at("dip").get<double>();
    c.digest = std::stoull(line.at("digest").get<std::string>(), nullptr, 16);
    return c;
}

// Appends the ticks of a movement line.
void take_moves(const Json& line, WorkLog& log, Move& move) {
    const auto from = static_cast<std::int64_t>(log.actions.size());
    const auto to = line.at("tick").get<std::int64_t>();
    if (line.at("from") != from || to < from || to - from > checkpoint_every_ticks) {
        throw LogError(fmt::format("ticks {} to {} do not follow on tick {}", line.at("from").dump(), to, from));
    }
    const Json& moves = line.at("moves");
    std::vector<Action> actions; // of the whole line or, when it is bad, none
    std::size_t next = 0;
    for (std::int64_t tick = from + 1; tick <= to; ++tick) {
        while (next < moves.size() && moves.at(next).at(0).get<std::int64_t>() <= tick - from) {
            move = move_of(moves.at(next++), move);
        }
        actions.push_back(on_log_grid(Action{move, std::nullopt}));
    }
    if (next != moves.size()) {
        throw LogError("a movement lies outside its line's ticks");
    }
    if (line.contains("command")) {
        if (to == from) {
            throw LogError(fmt::format("a command at tick {}, which has passed already", to));
        }
        actions.back().command = command_of(line);
    }
    if (line.contains("seen")) {
        log.checkpoints.push_back(checkpoint_of(line));
    }
    log.actions.insert(log.actions.end(), actions.begin(), actions.end());
}

void take_line(const Json& line, WorkLog& log, Move& move) {
    if (log.ended) {
        throw LogError("there is more after the end line");
    }
    const auto last = static_cast<std::int64_t>(log.actions.size());
    if (line.contains("moves")) {
        take_moves(line, log, move);
    } else if (line.contains("end")) {
        if (line.at("tick") != last) {
            throw LogError(fmt::format("the end line says tick {}; the log holds {}", line.at("tick").dump(), last));
        }
        log.ended = true;
    } else {
        throw LogError("neither movements nor the end");
    }
}

} // namespace

WorkLog parse_log(std::string_view text, std::string_view name) {
    WorkLog log;
    log.bytes = static_cast<std::int64_t>(text.size());
    std::string hash = sha256_hex(hash_seed);
    Move move;
    std::size_t number = 0;
    for (std::size_t at = 0; at < text.size() && log.fault.empty();) {
        const std::size_t end = text.find('\n', at);
        const std::string_view raw = text.substr(at, end == std::string_view::npos ? end : end - at);
        at = end == std::string_view::npos ? text.size() : end + 1;
        ++number;
        const auto fault = [&](const std::string& what) { log.fault = fmt::format("{}:{}: {}", name, number, what); };
        const auto stored = split_hash(raw);
        if (number == 1) {
            log.header = header_of(Json::parse(raw, nullptr, false), name);
        }
        if (!stored || end == std::string_view::npos) {
            fault("the line is incomplete: the log was cut off here");
        } else if (next_hash(hash, stored->first) != stored->second) {
            fault("the running hash does not fit: this line or the order of lines was altered");
        } else {
            hash = stored->second;
            try {
                if (number > 1) {
                    take_line(Json::parse(stored->first), log, move);
                }
            } catch (const std::exception& e) {
                fault(e.what());
            }
        }
    }
    if (number == 0) {
        throw LogError(fmt::format("{}:1: the file is empty; a work log begins with a header line", name));
    }
    if (log.fault.empty() && !log.ended) {
        log.fault = fmt::format("{}:{}: the log has no end line: the program stopped before the exercise did", name,
                                number + 1);
    }
    if (sha256_hex(log.header.scenario_toml) != log.header.scenario_sha256) {
        throw LogError(fmt::format("{}:1: the scenario's text does not fit its SHA-256: it was altered", name));
    }
    return log;
}

WorkLog read_log(const std::filesystem::path& path) {
    try {
        return parse_log(read_file(path, largest_log_bytes, "a work log"), path.string());
    } catch (const FileError& e) {
        throw LogError(e.what());
    }
}

} // namespace sondeyard::field
