@echo off
rem Installs Pourbook on a Windows PC from the folder this file lies in: no internet is used.
rem Beside it: the folder wheels, and the installer of Python. See offline_pc.md.
setlocal
cd /d "%~dp0"
set "SETUP=python-3.11.9-amd64.exe"
set "PY=py -3.11"
%PY% --version >nul 2>&1
if not errorlevel 1 goto pourbook
set "PY="%LocalAppData%\Programs\Python\Python311\python.exe""
%PY% --version >nul 2>&1
if not errorlevel 1 goto pourbook
if not exist "%SETUP%" goto nosetup
echo Installing Python 3.11 for this user ...
"%SETUP%" /passive InstallAllUsers=0 PrependPath=1 Include_launcher=1 InstallLauncherAllUsers=0
if errorlevel 1 goto nopython
%PY% --version >nul 2>&1
if errorlevel 1 goto nopython
:pourbook
if not exist wheels goto nowheels
echo Installing Pourbook ...
%PY% -m pip install --no-index --find-links wheels --upgrade pourbook
if errorlevel 1 goto nopip
%PY% -m pourbook desk --link --force
if errorlevel 1 goto nolink
echo.
echo Done. Pourbook desk is on the desktop: double-click it, or drop a job onto it.
pause
exit /b 0
:nosetup
echo Not done: Python 3.11 is not on this PC, and %SETUP% is not beside this file. Copy it there.
goto failed
:nopython
echo Not done: Python did not install. Double-click %SETUP% yourself, then this file again.
goto failed
:nowheels
echo Not done: the folder wheels is not beside this file. Copy it there.
goto failed
:nopip
echo Not done: Pourbook did not install, the lines above say why. See offline_pc.md, part 5.
goto failed
:nolink
echo Pourbook is installed, but its icon could not be put on the desktop; the lines above say why.
:failed
pause
exit /b 1
