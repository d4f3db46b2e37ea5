// A folder of its own for what is measured, gone with the object.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <string>
#include <system_error>

namespace sondeyard::ui {

class TemporaryFolder {
public:
    TemporaryFolder() {
        std::string pattern = (std::filesystem::temp_directory_path() / "sondeyard-bench-XXXXXX").string();
        path_ = mkdtemp(pattern.data()) != nullptr ? pattern : "";
    }
    ~TemporaryFolder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    TemporaryFolder(const TemporaryFolder&) = delete;
    TemporaryFolder& operator=(const TemporaryFolder&) = delete;
    const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_; // empty: none could be made
};

} // namespace sondeyard::ui
