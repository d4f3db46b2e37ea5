// The store of progress in SQLite: one file with a rollback journal (no second and third file beside it while nothing
// is written, and safe in a home folder that lies on a server), one transaction a change.
#include "field/progress.hpp"

#include <fmt/format.h>
#include <sqlite3.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <system_error>
#include <utility>

namespace sondeyard::field {

namespace {

constexpr int application_id = 0x536e5964; // "SnYd": tells the file from any other program's

// What brings a store from version i to i + 1. Plain SQL: the types are those that any database has.
constexpr std::array<const char*, store_version> steps = {
    "CREATE TABLE person (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);"
    "CREATE TABLE attempt ("
    " id INTEGER PRIMARY KEY,"
    " person INTEGER NOT NULL REFERENCES person (id) ON DELETE CASCADE,"
    " exercise TEXT NOT NULL,"
    " seed TEXT NOT NULL," // digits: it may be larger than the largest signed number
    " points INTEGER NOT NULL,"
    " passed INTEGER NOT NULL,"
    " date TEXT NOT NULL,"
    " log TEXT NOT NULL,"
    " position_points INTEGER, depth_points INTEGER, tilt_points INTEGER, dig_points INTEGER, procedure_points INTEGER,"
    " error_m REAL, error_share REAL, depth_error_m REAL, tilt_right INTEGER, duration_s REAL,"
    " missed TEXT NOT NULL," // keys with a blank between
    " findings TEXT NOT NULL);"
    "CREATE INDEX attempt_of_person ON attempt (person, id);"
    "CREATE TABLE note (name TEXT PRIMARY KEY, value TEXT NOT NULL);",
    // Whether a coach looked at it: until version 2 none did, and an empty list then does not say that all was well.
    "ALTER TABLE attempt ADD COLUMN coached INTEGER NOT NULL DEFAULT 0;"};

// What went wrong, and what follows from it.
std::string words_of(int code, const char* said) {
    switch (code & 0xFF) {
    case SQLITE_FULL:
        return "the disk or the store is full";
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
        return "is damaged, and left as it is; move it away to begin anew";
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return "another program is writing to it";
    case SQLITE_READONLY:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return "may not be written";
    case SQLITE_CANTOPEN:
        return "cannot be opened";
    default:
        return said;
    }
}

class Database {
public:
    Database(const std::filesystem::path& file, const StoreLimits& limits) : file_(file.string()) {
        const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
        const int code = sqlite3_open_v2(file_.c_str(), &handle_, flags, nullptr);
        if (code != SQLITE_OK) {
            const std::string why = words_of(code, handle_ != nullptr ? sqlite3_errmsg(handle_) : "no memory");
            sqlite3_close(handle_);
            throw ProgressError(fmt::format("{}: {}", file_, why));
        }
        sqlite3_busy_timeout(handle_, limits.busy_ms);
    }
    ~Database() { sqlite3_close(handle_); }
    Database(const Database&) = delete;
    Database& operator=(const Database&) = delete;

    void run(const char* sql) const {
        if (const int code = sqlite3_exec(handle_, sql, nullptr, nullptr, nullptr); code != SQLITE_OK) {
            fail(code);
        }
    }
    [[noreturn]] void fail(int code) const { refuse(words_of(code, sqlite3_errmsg(handle_))); }
    [[noreturn]] void refuse(std::string_view why) const { throw ProgressError(fmt::format("{}: {}", file_, why)); }
    sqlite3* handle() const { return handle_; }

private:
    std::string file_;
    sqlite3* handle_ = nullptr;
};

class Statement {
public:
    Statement(const Database& database, const char* sql) : database_(database) {
        if (const int code = sqlite3_prepare_v2(database.handle(), sql, -1, &handle_, nullptr); code != SQLITE_OK) {
            database.fail(code);
        }
    }
    ~Statement() { sqlite3_finalize(handle_); }
    Statement(const Statement&) = delete;
    Statement& operator=(const Statement&) = delete;

    Statement& put(std::string_view text) {
        return checked(sqlite3_bind_text64(handle_, next_++, text.data(), text.size(), SQLITE_TRANSIENT, SQLITE_UTF8));
    }
    Statement& put(std::int64_t number) { return checked(sqlite3_bind_int64(handle_, next_++, number)); }
    Statement& put(std::optional<double> number) {
        return checked(number ? sqlite3_bind_double(handle_, next_++, *number) : sqlite3_bind_null(handle_, next_++));
    }
    Statement& put_whole(std::optional<int> number) {
        return checked(number ? sqlite3_bind_int(handle_, next_++, *number) : sqlite3_bind_null(handle_, next_++));
    }
    bool row() { // false: there is none left
        const int code = sqlite3_step(handle_);
        if (code != SQLITE_ROW && code != SQLITE_DONE) {
            database_.fail(code);
        }
        column_ = 0;
        return code == SQLITE_ROW;
    }
    void done() {
        while (row()) {
        }
        sqlite3_reset(handle_);
        next_ = 1;
    }
    std::int64_t number() { return sqlite3_column_int64(handle_, column_++); }
    std::string text() {
        const auto* const bytes = reinterpret_cast<const char*>(sqlite3_column_text(handle_, column_));
        const auto n = static_cast<std::size_t>(sqlite3_column_bytes(handle_, column_++));
        return bytes == nullptr ? std::string() : std::string(bytes, n);
    }
    std::optional<double> real() {
        const int c = column_++;
        return sqlite3_column_type(handle_, c) == SQLITE_NULL ? std::nullopt
                                                              : std::optional(sqlite3_column_double(handle_, c));
    }
    std::optional<int> whole() {
        const int c = column_++;
        return sqlite3_column_type(handle_, c) == SQLITE_NULL ? std::nullopt
                                                              : std::optional(sqlite3_column_int(handle_, c));
    }

private:
    Statement& checked(int code) {
        if (code != SQLITE_OK) {
            database_.fail(code);
        }
        return *this;
    }
    const Database& database_;
    sqlite3_stmt* handle_ = nullptr;
    int next_ = 1;
    int column_ = 0;
};

constexpr const char* to_write = "BEGIN IMMEDIATE"; // another writer is met here, not half way
constexpr const char* to_read = "BEGIN";            // what is read in it is of one moment

// Taken back unless it is brought to its end.
class Transaction {
public:
    explicit Transaction(const Database& database, const char* begin = to_write) : database_(database) {
        database.run(begin);
    }
    ~Transaction() {
        if (open_) {
            sqlite3_exec(database_.handle(), "ROLLBACK", nullptr, nullptr, nullptr);
        }
    }
    Transaction(const Transaction&) = delete;
    Transaction& operator=(const Transaction&) = delete;
    void commit() {
        database_.run("COMMIT");
        open_ = false;
    }

private:
    const Database& database_;
    bool open_ = true;
};

std::vector<std::string> keys_in(const std::string& text) {
    std::vector<std::string> keys;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find(' ', at), text.size());
        if (end > at) {
            keys.push_back(text.substr(at, end - at));
        }
        at = end + 1;
    }
    return keys;
}

std::int64_t only_number(const Database& database, const char* sql) {
    Statement s(database, sql);
    return s.row() ? s.number() : 0;
}

void bring_up_to_date(const Database& database) {
    const auto version = [&] { return only_number(database, "PRAGMA user_version"); };
    const auto told = [&](std::int64_t found) {
        if (found > store_version) {
            database.refuse(
                fmt::format("was written by a newer version of the program (store {}, known up to {}), and is "
                            "left as it is",
                            found, store_version));
        }
        const std::int64_t whose = only_number(database, "PRAGMA application_id");
        const bool fresh = found == 0 && whose == 0 && only_number(database, "SELECT count(*) FROM sqlite_schema") == 0;
        if (whose != application_id && !fresh) {
            database.refuse("is another program's database, and left as it is");
        }
        return found;
    };
    {
        Transaction look(database, to_read); // else a store that is made just now looks half like another program's
        if (told(version()) == store_version) {
            return;
        }
    }
    Transaction change(database);
    for (std::int64_t v = told(version()); v < store_version; ++v) { // another start may have been quicker
        database.run(steps[static_cast<std::size_t>(v)]);
    }
    database.run(
        fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {}", application_id, store_version).c_str());
    change.commit();
}

void put(Statement& s, std::int64_t person, const Attempt& a) {
    const auto part = [&](int PartPoints::* member) {
        return a.parts ? std::optional((*a.parts).*member) : std::nullopt;
    };
    s.put(person).put(a.exercise).put(fmt::to_string(a.seed)).put(std::int64_t{a.points}).put(std::int64_t{a.passed});
    s.put(a.date).put(a.log);
    for (int PartPoints::* member :
         {&PartPoints::position, &PartPoints::depth, &PartPoints::tilt, &PartPoints::dig, &PartPoints::procedure}) {
        s.put_whole(part(member));
    }
    s.put(a.error_m).put(a.error_share).put(a.depth_error_m);
    s.put_whole(a.tilt_right ? std::optional(static_cast<int>(*a.tilt_right)) : std::nullopt);
    s.put(a.duration_s);
    s.put(fmt::format("{}", fmt::join(a.missed, " ")));
    s.put(a.findings ? fmt::format("{}", fmt::join(*a.findings, " ")) : std::string());
    s.put(std::int64_t{a.findings.has_value()});
}

Attempt attempt_in(Statement& s) {
    Attempt a;
    a.id = s.number();
    a.exercise = s.text();
    const std::string seed = s.text();
    std::from_chars(seed.data(), seed.data() + seed.size(), a.seed);
    a.points = static_cast<int>(s.number());
    a.passed = s.number() != 0;
    a.date = s.text();
    a.log = s.text();
    std::array<std::optional<int>, 5> parts;
    for (std::optional<int>& part : parts) {
        part = s.whole();
    }
    if (parts[0]) {
        a.parts = PartPoints{*parts[0], parts[1].value_or(0), parts[2].value_or(0), parts[3].value_or(0),
                             parts[4].value_or(0)};
    }
    a.error_m = s.real();
    a.error_share = s.real();
    a.depth_error_m = s.real();
    if (const std::optional<int> right = s.whole()) {
        a.tilt_right = *right != 0;
    }
    a.duration_s = s.real();
    a.missed = keys_in(s.text());
    std::vector<std::string> findings = keys_in(s.text());
    if (s.number() != 0) {
        a.findings = std::move(findings);
    }
    return a;
}

class SqliteStore final : public ProgressStore {
public:
    SqliteStore(const std::filesystem::path& file, const StoreLimits& limits) : database_(file, limits) {
        database_.run("PRAGMA foreign_keys = ON; PRAGMA secure_delete = ON");
        bring_up_to_date(database_);
        const std::int64_t page = only_number(database_, "PRAGMA page_size");
        database_.run(
            fmt::format("PRAGMA max_page_count = {}", std::max<std::int64_t>(1, limits.most_bytes / page)).c_str());
    }

    std::vector<Person> people() override {
        Statement s(database_, "SELECT id, name FROM person ORDER BY id");
        std::vector<Person> all;
        while (s.row()) {
            const std::int64_t id = s.number();
            all.push_back({id, s.text()});
        }
        return all;
    }

    Person add_person(std::string_view wanted) override {
        const std::string name = checked_name(wanted);
        Transaction change(database_);
        refuse_taken(name);
        Statement(database_, "INSERT INTO person (name) VALUES (?)").put(name).done();
        const Person added{sqlite3_last_insert_rowid(database_.handle()), name};
        change.commit();
        return added;
    }

    void rename_person(std::int64_t id, std::string_view wanted) override {
        const std::string name = checked_name(wanted);
        Transaction change(database_);
        refuse_taken(name);
        Statement(database_, "UPDATE person SET name = ? WHERE id = ?").put(name).put(id).done();
        refuse_unless_changed(id);
        change.commit();
    }

    std::vector<Attempt> attempts(std::int64_t person) override {
        Statement s(
            database_,
            "SELECT id, exercise, seed, points, passed, date, log, position_points, depth_points, tilt_points, "
            "dig_points, procedure_points, error_m, error_share, depth_error_m, tilt_right, duration_s, missed, "
            "findings, coached FROM attempt WHERE person = ? ORDER BY id");
        s.put(person);
        std::vector<Attempt> all;
        while (s.row()) {
            all.push_back(attempt_in(s));
        }
        return all;
    }

    void add_attempts(std::int64_t person, std::span<const Attempt> attempts, std::string_view note) override {
        Transaction change(database_);
        Statement s(
            database_,
            "INSERT INTO attempt (person, exercise, seed, points, passed, date, log, position_points, depth_points, "
            "tilt_points, dig_points, procedure_points, error_m, error_share, depth_error_m, tilt_right, duration_s, "
            "missed, findings, coached) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
        for (const Attempt& a : attempts) {
            put(s, person, a);
            s.done();
        }
        if (!note.empty()) {
            write_note(note, "done");
        }
        change.commit();
    }

    void delete_person(std::int64_t id) override {
        Transaction change(database_);
        Statement(database_, "DELETE FROM person WHERE id = ?").put(id).done(); // the attempts go with it
        refuse_unless_changed(id);
        change.commit();
    }

    std::string note(std::string_view name) override {
        Statement s(database_, "SELECT value FROM note WHERE name = ?");
        return s.put(name).row() ? s.text() : std::string();
    }
    void set_note(std::string_view name, std::string_view value) override { write_note(name, value); }

private:
    void write_note(std::string_view name, std::string_view value) {
        Statement(database_, "INSERT OR REPLACE INTO note (name, value) VALUES (?, ?)").put(name).put(value).done();
    }
    void refuse_taken(const std::string& name) {
        Statement s(database_, "SELECT 1 FROM person WHERE name = ?");
        if (s.put(name).row()) {
            throw ProgressError(fmt::format("there is a \"{}\" already; each name stands for one person", name));
        }
    }
    void refuse_unless_changed(std::int64_t id) {
        if (sqlite3_changes(database_.handle()) != 1) {
            database_.refuse(fmt::format("there is no person with the number {}", id));
        }
    }
    Database database_;
};

} // namespace

std::unique_ptr<ProgressStore> open_progress(const std::filesystem::path& file, const StoreLimits& limits) {
    std::error_code error;
    if (!file.parent_path().empty()) {
        std::filesystem::create_directories(file.parent_path(), error); // what is wrong with it shows at opening
    }
    if (std::filesystem::exists(file, error) && !std::filesystem::is_regular_file(file, error)) {
        throw ProgressError(fmt::format("{}: is no ordinary file, and left as it is", file.string()));
    }
    return std::make_unique<SqliteStore>(file, limits);
}

} // namespace sondeyard::field
