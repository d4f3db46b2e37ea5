// Runs the tests that it is linked with, those of sim or some of field, once as they are, then once for each deliberate
// error of sim/mutation.hpp in that folder, and fails if any error leaves them all green. Each run is a child process, so that a crash or an endless loop counts as red too and
// nothing that one run leaves behind reaches the next.
//
// usage: sim_mutations [NAME...]     only these errors; without a name, all; field_mutations is the other program
#define DOCTEST_CONFIG_IMPLEMENT
#include "sim/mutation.hpp"

#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>
#include <vector>

namespace {

using sondeyard::sim::Mutation;
using sondeyard::sim::mutation_names;

static_assert(mutation_names.size() == static_cast<std::size_t>(Mutation::fit_one_start) + 1,
              "every mutation needs its name, in the same order");

#ifdef SONDEYARD_FIELD_MUTATIONS
constexpr std::size_t first_mutation = sondeyard::sim::first_field_mutation;
constexpr std::size_t mutations_end = mutation_names.size();
#else
constexpr std::size_t first_mutation = 1;
constexpr std::size_t mutations_end = sondeyard::sim::first_field_mutation;
#endif

constexpr unsigned longest_run_s = 120;

// Where the child writes the names of failed test cases, one a line. A file descriptor, because doctest makes the
// listener itself.
int report_to = -1;

struct FailedNames : doctest::IReporter {
    const char* name = "";

    explicit FailedNames(const doctest::ContextOptions& /*options*/) {}
    void test_case_start(const doctest::TestCaseData& test) override { name = test.m_name; }
    void test_case_reenter(const doctest::TestCaseData& /*test*/) override {}
    void test_case_end(const doctest::CurrentTestCaseStats& stats) override {
        if (stats.testCaseSuccess || report_to < 0) {
            return;
        }
        const std::string line = std::string(name) + "\n";
        [[maybe_unused]] const auto written = ::write(report_to, line.data(), line.size());
    }
    void report_query(const doctest::QueryData& /*data*/) override {}
    void test_run_start() override {}
    void test_run_end(const doctest::TestRunStats& /*stats*/) override {}
    void test_case_exception(const doctest::TestCaseException& /*exception*/) override {}
    void subcase_start(const doctest::SubcaseSignature& /*signature*/) override {}
    void subcase_end() override {}
    void log_assert(const doctest::AssertData& /*data*/) override {}
    void log_message(const doctest::MessageData& /*data*/) override {}
    void test_case_skipped(const doctest::TestCaseData& /*data*/) override {}
};
REGISTER_LISTENER("failed-names", 1, FailedNames);

struct Outcome {
    bool red = false;
    std::string ending; // how the child ended, when not by returning doctest's answer
    std::vector<std::string> failed;
};

[[noreturn]] void run_child(Mutation mutation, int to_parent) {
    report_to = to_parent;
    sondeyard::sim::active_mutation = mutation;
    // A failing run prints thousands of lines that nobody needs; a run of the sound physics must show what failed.
    if (mutation != Mutation::none) {
        const int nowhere = ::open("/dev/null", O_WRONLY);
        if (nowhere >= 0) {
            ::dup2(nowhere, STDOUT_FILENO);
            ::dup2(nowhere, STDERR_FILENO);
        }
    }
    ::alarm(longest_run_s);
    doctest::Context context;
#ifdef SONDEYARD_FIELD_MUTATIONS
    context.addFilter("test-case-exclude", "*range two times in three*"); // most of the time, and finds nothing more
    context.addFilter("test-case-exclude", "*range stays wide enough*");
#endif
    const int answer = context.run();
    std::fflush(nullptr);
    ::_exit(answer == 0 ? 0 : 1);
}

Outcome run_with(Mutation mutation) {
    int ends[2] = {-1, -1};
    std::fflush(nullptr);
    const pid_t child = ::pipe(ends) == 0 ? ::fork() : -1;
    if (child < 0) {
        // Not a red run: nothing was tried.
        std::perror("mutations: no child process");
        std::exit(2);
    }
    if (child == 0) {
        ::close(ends[0]);
        run_child(mutation, ends[1]);
    }
    ::close(ends[1]);
    std::string text;
    char block[4096];
    for (ssize_t got = 0; (got = ::read(ends[0], block, sizeof block)) > 0;) {
        text.append(block, static_cast<std::size_t>(got));
    }
    ::close(ends[0]);
    int status = 0;
    ::waitpid(child, &status, 0);

    Outcome outcome;
    outcome.red = !WIFEXITED(status) || WEXITSTATUS(status) != 0;
    if (WIFSIGNALED(status)) {
        outcome.ending =
            WTERMSIG(status) == SIGALRM ? "took too long" : "ended by signal " + std::to_string(WTERMSIG(status));
    }
    for (std::size_t begin = 0, end = 0; (end = text.find('\n', begin)) != std::string::npos; begin = end + 1) {
        outcome.failed.push_back(text.substr(begin, end - begin));
    }
    return outcome;
}

} // namespace

int main(int argc, char** argv) {
    const std::vector<std::string_view> wanted(argv + 1, argv + argc);
    for (const std::string_view name : wanted) {
        if (std::find(mutation_names.begin() + first_mutation, mutation_names.begin() + mutations_end, name) ==
            mutation_names.begin() + mutations_end) {
            std::fprintf(stderr, "mutations: none in this folder is called %.*s; see sim/mutation.hpp\n",
                         static_cast<int>(name.size()), name.data());
            return 2;
        }
    }
    if (run_with(Mutation::none).red) {
        std::printf("The tests fail with the physics as it is; mutations say nothing before they pass.\n");
        return 1;
    }
    std::vector<std::string> survivors;
    std::size_t tried = 0;
    for (std::size_t i = first_mutation; i < mutations_end; ++i) {
        const std::string name(mutation_names[i]);
        if (!wanted.empty() && std::find(wanted.begin(), wanted.end(), name) == wanted.end()) {
            continue;
        }
        ++tried;
        const Outcome outcome = run_with(static_cast<Mutation>(i));
        if (!outcome.red) {
            survivors.push_back(name);
        }
        std::printf(
            "%-30s %s %3zu red%s%s%s%s\n", name.c_str(), outcome.red ? "found  " : "SURVIVES", outcome.failed.size(),
            outcome.failed.empty() ? "" : ", first: ", outcome.failed.empty() ? "" : outcome.failed.front().c_str(),
            outcome.ending.empty() ? "" : "; ", outcome.ending.c_str());
    }
    std::printf("%zu of %zu deliberate errors found by the tests\n", tried - survivors.size(), tried);
    for (const std::string& name : survivors) {
        std::printf("no test notices: %s\n", name.c_str());
    }
    return survivors.empty() ? 0 : 1;
}
