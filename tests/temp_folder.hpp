// A folder of a test's own, gone with it. The only one: two of one name in a program would be one to the linker.
#pragma once

#include <doctest/doctest.h>
#include <stdlib.h> // mkdtemp

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <system_error>
#include <vector>

namespace sondeyard::test {

class Folder {
public:
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "sondeyard-test-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;

    const std::filesystem::path& path() const { return path_; }
    std::filesystem::path operator/(std::string_view name) const { return path_ / name; }
    void write(std::string_view name, std::string_view bytes) const {
        std::ofstream out(path_ / name, std::ios::binary);
        out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        REQUIRE(out.good());
    }
    std::vector<std::string> names() const {
        std::vector<std::string> all;
        for (const auto& entry : std::filesystem::directory_iterator(path_)) {
            all.push_back(entry.path().filename().string());
        }
        std::ranges::sort(all);
        return all;
    }

private:
    std::filesystem::path path_;
};

} // namespace sondeyard::test
