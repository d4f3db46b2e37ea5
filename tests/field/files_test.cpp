// Files: whole or not at all, and never over another.
#include "field/files.hpp"
#include "tests/temp_folder.hpp"

#include <doctest/doctest.h>
#include <sys/stat.h>
#include <unistd.h>

#include <fstream>

using namespace sondeyard::field;
namespace fs = std::filesystem;

TEST_CASE("a new file is written whole, leaves nothing beside it, and is never written over") {
    const sondeyard::test::Folder temp;
    const fs::path file = temp / "a.toml";
    write_new_file(file, "first\n");
    CHECK(read_file(file, 100, "a text") == "first\n");
    CHECK_THROWS_WITH_AS(write_new_file(file, "second\n"), doctest::Contains("it is left alone"), FileError);
    CHECK(read_file(file, 100, "a text") == "first\n");
    CHECK(std::distance(fs::directory_iterator(temp.path()), {}) == 1);
    CHECK_THROWS_AS(write_new_file(temp / "no" / "such" / "b.toml", "x"), FileError);
}

TEST_CASE("only an ordinary file of a sensible length is read") {
    const sondeyard::test::Folder temp;
    const auto refused = [](const fs::path& path, const char* why) {
        CHECK_THROWS_WITH_AS(read_file(path, 4, "a text"), doctest::Contains(why), FileError);
    };
    refused(temp.path(), "this is a folder; a text is wanted");
    refused(temp / "none", "cannot be read");
    refused("/dev/zero", "this is a device or a pipe");
    REQUIRE(mkfifo((temp / "pipe").c_str(), 0600) == 0);
    refused(temp / "pipe", "this is a device or a pipe"); // and does not wait for a writer
    write_new_file(temp / "long", "12345");
    refused(temp / "long", "more than 4 bytes");
}
