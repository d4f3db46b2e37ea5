// Running the program as a person or a script does: words in, exit code, standard output and standard error out.
#pragma once

#include "tests/temp_folder.hpp"

#include <doctest/doctest.h>
#include <fcntl.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

namespace sondeyard::test {

using Json = nlohmann::ordered_json;

inline std::string bytes_of(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    REQUIRE_MESSAGE(in.good(), file.string());
    return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

struct Ran {
    int code = -1; // -signal when it was killed
    std::string out;
    std::string err;
    bool says(std::string_view what) const { return err.find(what) != std::string::npos; }
    Json json() const {
        Json document = Json::parse(out, nullptr, false);
        REQUIRE_MESSAGE(!document.is_discarded(), "no JSON: ", out, err);
        return document;
    }
};

struct How {
    std::vector<std::string> environment;  // "NAME=value" on top of this process's own; "NAME" takes it away
    const char* standard_output = nullptr; // instead of being kept
};

inline std::vector<std::string> environment_with(const std::vector<std::string>& changes) {
    std::vector<std::string> all;
    for (char** entry = environ; *entry != nullptr; ++entry) {
        all.emplace_back(*entry);
    }
    for (const std::string& change : changes) {
        const std::string name = change.substr(0, change.find('='));
        std::erase_if(all, [&](const std::string& entry) { return entry.starts_with(name + "="); });
        if (name != change) {
            all.push_back(change);
        }
    }
    return all;
}

// Runs a program with `folder` as the working folder.
inline Ran run_program(const std::string& program, const Folder& folder, std::vector<std::string> words,
                       const How& how = {}) {
    const Folder kept;
    words.insert(words.begin(), program);
    std::vector<std::string> environment = environment_with(how.environment);
    const auto pointers = [](std::vector<std::string>& texts) {
        std::vector<char*> all;
        all.reserve(texts.size() + 1);
        for (std::string& text : texts) {
            all.push_back(text.data());
        }
        all.push_back(nullptr);
        return all;
    };
    const std::string out = how.standard_output != nullptr ? how.standard_output : (kept / "out").string();
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_addopen(&actions, 1, out.c_str(), O_WRONLY | O_CREAT, 0644);
    posix_spawn_file_actions_addopen(&actions, 2, (kept / "err").c_str(), O_WRONLY | O_CREAT, 0644);
    posix_spawn_file_actions_addchdir_np(&actions, folder.path().c_str());
    pid_t child = 0;
    const int error =
        posix_spawnp(&child, program.c_str(), &actions, nullptr, pointers(words).data(), pointers(environment).data());
    posix_spawn_file_actions_destroy(&actions);
    Ran ran;
    if (error != 0) {
        ran.err = fmt::format("{}: {}", program, std::strerror(error));
        return ran;
    }
    int status = 0;
    while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
    }
    ran.code = WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
    ran.out = how.standard_output != nullptr ? std::string() : bytes_of(kept / "out");
    ran.err = bytes_of(kept / "err");
    return ran;
}

inline Ran run(const Folder& folder, std::vector<std::string> words, const How& how = {}) {
    return run_program(SONDEYARD_PROGRAM, folder, std::move(words), how);
}

inline std::vector<std::string> lines_of(std::string_view text) {
    std::vector<std::string> lines;
    while (!text.empty()) {
        const auto end = std::min(text.find('\n'), text.size());
        lines.emplace_back(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    return lines;
}

inline std::string joined(const std::vector<std::string>& lines) {
    std::string text;
    for (const std::string& line : lines) {
        text += line + "\n";
    }
    return text;
}

inline const std::vector<std::string>& command_names() {
    static const std::vector<std::string> names = {"list",   "check", "generate", "probe", "operate",
                                                   "replay", "score", "progress", "bench", "tiltfix"};
    return names;
}

} // namespace sondeyard::test
